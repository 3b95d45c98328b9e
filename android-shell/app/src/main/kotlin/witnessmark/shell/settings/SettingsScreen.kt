package witnessmark.shell.settings

import android.Manifest
import android.content.Intent
import witnessmark.door.Trouble
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import java.io.File

/** How it is held and shown; where the data is; a backup into a folder of the person's. */
class SettingsScreen(host: Host, at: witnessmark.shell.work.Where) : Screen(host, at) {
    /** What the picked folder is for; the picker may outlive this process. */
    private var wanted by Noted("wanted", "backup")

    override fun load(): Unit = ask({ it.settings() }) { settings ->
        val keep = host.keep
        draw {
            title(word(R.string.settings))
            settings.notices.forEach { caution(it) }
            heading(word(R.string.where_data))
            line(settings.whereTheDataIs)
            quiet(keep.backupAt?.let { word(R.string.backup_at, it) } ?: word(R.string.no_backup))
            heading(settings.name)
            quiet("${settings.role} · ${settings.author.chunked(4).take(4).joinToString(" ")}")
            if (!settings.writable) caution(word(R.string.read_only))
            heading(word(R.string.how_held))
            ruled(word(R.string.thumb), word(if (keep.leftHanded) R.string.left_thumb else R.string.right_thumb), "thumb") { keep.leftHanded = !keep.leftHanded; load() }
            val themes = listOf("phone" to R.string.theme_phone, "sun" to R.string.theme_sun, "night" to R.string.theme_night)
            val now = themes.indexOfFirst { it.first == keep.theme }
            ruled(word(R.string.theme), word(themes[now].second), "theme") { keep.theme = themes[(now + 1) % 3].first; host.activity.recreate() }
            ruled(word(R.string.camera), word(if (keep.systemCamera) R.string.camera_system else R.string.camera_own), "camera") { keep.systemCamera = !keep.systemCamera; load() }
            ruled(word(R.string.read_back), word(if (keep.readBack) R.string.yes else R.string.no), "read_back") { keep.readBack = !keep.readBack; load() }
            ruled(word(R.string.location), word(if (keep.withLocation) R.string.location_handed else R.string.location_withheld), "location") { keep.withLocation = !keep.withLocation; load() }
            ruled(word(R.string.position), word(if (keep.position) R.string.yes else R.string.no), "position") { position() }
            quiet(settings.law)
            quiet(word(R.string.version, settings.version))
            action(word(R.string.backup), "main", "backup") { keep.backupFolder?.let { backup(it) } ?: pick("backup") }
            action(word(R.string.other_folder), "small", "folder") { pick("backup") }
            action(word(R.string.restore), "small", "restore") { keep.backupFolder?.let { restore(it) } ?: pick("restore") }
            action(word(R.string.check), "small", "check") { check() }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }

    /** Every line and every file against its digest, in the core's words and order. */
    private fun check(): Unit = long(R.string.check, { it.verify() }) { checked ->
        draw {
            title(word(R.string.check))
            if (checked.failed) caution(checked.says) else line(checked.says)
            for (row in checked.rows.take(30)) ruled(row.what, listOf(row.touches, row.whatToDo).filter { it.isNotEmpty() }.joinToString(" · "))
            quiet(checked.worth)
            action(word(R.string.back), "usual", "back") { load() }
        }
    }

    /** Off until somebody wants it; without the permission it stays off. */
    private fun position() {
        val keep = host.keep
        if (keep.position) { keep.position = false; load() }
        else if (host.may(Manifest.permission.ACCESS_FINE_LOCATION)) { keep.position = true; load() }
        else host.askFor(Manifest.permission.ACCESS_FINE_LOCATION, Manifest.permission.ACCESS_COARSE_LOCATION)
    }
    override fun permitted(permission: String, yes: Boolean) {
        if (permission != Manifest.permission.ACCESS_FINE_LOCATION) return
        host.keep.position = yes
        if (!yes) host.say(word(R.string.position_refused))
        load()
    }

    private fun pick(what: String) { wanted = what; if (!host.start(Intent(Intent.ACTION_OPEN_DOCUMENT_TREE), 41)) { host.say(word(R.string.no_picker)); load() } }

    override fun answered(code: Int, ok: Boolean, data: Intent?) {
        val tree = data?.data
        if (code != 41 || !ok || tree == null) return
        try {
            host.activity.contentResolver.takePersistableUriPermission(tree, Intent.FLAG_GRANT_READ_URI_PERMISSION or Intent.FLAG_GRANT_WRITE_URI_PERMISSION)
        } catch (_: SecurityException) { /* lasts until the phone restarts */ }
        host.keep.backupFolder = tree.toString()
        if (wanted == "restore") restore(tree.toString()) else backup(tree.toString())
    }

    /** A dated folder in the picked one; nothing there is written over. */
    private fun backup(tree: String) {
        val today = host.ports.today()
        val local = File(host.activity.filesDir, "backup").also { it.deleteRecursively() }
        long(R.string.backup, { book ->
            book.backup(local.path)
            val place = host.ports.meeting(host.activity, tree)
            val there = place.list().keys
            var name = "witnessmark-$today"
            var n = 1
            while (there.any { it.startsWith("$name/") }) name = "witnessmark-$today-${++n}"
            for (file in local.walkTopDown().filter { it.isFile }) place.put(name + "/" + file.relativeTo(local).invariantSeparatorsPath, file)
            local.deleteRecursively()
            name
        }) { name -> host.keep.backupAt = today; host.say(word(R.string.backup_made, name)); load() }
    }

    /** The newest backup of the folder comes in as another author's lines: a backup holds no key. */
    private fun restore(tree: String) {
        val local = File(host.activity.filesDir, "restore").also { it.deleteRecursively() }
        long(R.string.restore, { book ->
            val place = host.ports.meeting(host.activity, tree)
            val names = place.list().keys.filter { it.startsWith("witnessmark-") && '/' in it && ".." !in it.split('/') }
            val newest = names.map { it.substringBefore('/') }.maxOrNull()
            for (name in names.filter { it.substringBefore('/') == newest }) {
                val into = File(local, name.substringAfter('/'))
                into.parentFile?.mkdirs()
                place.get(name, into)
            }
            if (newest == null) throw Trouble.Input("no backup", word(R.string.no_backup_there), "", "")
            book.receiveNotebook(local.path).also { local.deleteRecursively() }
        }) { host.say(it.says); load() }
    }
}
