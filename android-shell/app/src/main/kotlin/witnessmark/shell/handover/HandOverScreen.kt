package witnessmark.shell.handover

import android.content.ClipData
import android.content.Intent
import android.net.Uri
import java.io.File
import witnessmark.door.Source
import witnessmark.shell.R
import witnessmark.shell.ShellActivity
import witnessmark.shell.files.OwnFiles
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Pack or page by the share sheet, with one narrow grant; exchange through the picked folder in one action. */
class HandOverScreen(host: Host, at: Where) : Screen(host, at) {
    private val shell get() = host.activity as ShellActivity

    override fun load(): Unit = ask({ it.handOver(aircraft) }) { over ->
        draw {
            title(word(R.string.hand_over))
            line(over.says)
            over.first.forEach { caution(it) }
            quiet(word(if (host.keep.withLocation) R.string.with_location else R.string.without_location))
            ruled(word(R.string.people), word(if (host.keep.withoutPeople) R.string.people_out else R.string.people_in), "people") { host.keep.withoutPeople = !host.keep.withoutPeople; load() }
            val finding = at["finding"]
            if (finding != null) ruled(word(R.string.only_this_finding), "", "cut:finding") { pack("finding", finding) }
            for (cut in over.cuts) ruled(cut.title, "", "cut:${cut.key}") { pack(cut.key, null) }
            ruled(word(R.string.page), word(R.string.page_help), "page") { page() }
            ruled(word(R.string.show_qr), word(R.string.show_qr_help), "qr") { qr() }
            action(word(R.string.exchange), "main", "exchange") { host.keep.meetingFolder?.let { meet(it) } ?: pick() }
            action(word(R.string.other_folder), "small", "folder") { pick() }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }

    private fun pick() {

        if (!host.start(Intent(Intent.ACTION_OPEN_DOCUMENT_TREE), 31)) { host.say(word(R.string.no_picker)); load() }
    }

    override fun answered(code: Int, ok: Boolean, data: Intent?) {
        val tree = data?.data
        if (code != 31 || !ok || tree == null) return
        try {
            host.activity.contentResolver.takePersistableUriPermission(tree, Intent.FLAG_GRANT_READ_URI_PERMISSION or Intent.FLAG_GRANT_WRITE_URI_PERMISSION)
        } catch (_: SecurityException) { /* the grant lasts until the restart of the phone: asked again then */ }
        host.keep.meetingFolder = tree.toString()
        meet(tree.toString())
    }

    private fun meet(tree: String) {
        val local = File(host.activity.filesDir, "meeting")
        long(R.string.exchange, { book -> exchange(book, host.ports.meeting(host.activity, tree), local) }) { host.say(it.says); load() }
    }

    private fun pack(cut: String, finding: String?) {
        val out = shell.out("witnessmark-$cut.zip")
        long(R.string.hand_over, { it.pack(aircraft, cut, finding, host.keep.withoutPeople, !host.keep.withLocation, out.path) }) { packed -> host.say(packed.says); load(); share(out.name, "application/zip") }
    }

    private fun page() {
        val out = shell.out("witnessmark.html")
        ask({ it.page(aircraft, Source.Path(out.path)) }) { host.say(word(R.string.page_made)); load(); share(out.name, "text/html") }
    }

    private fun share(name: String, type: String) {
        val uri: Uri = OwnFiles.uri(OwnFiles.OUT, name)
        val send = Intent(Intent.ACTION_SEND).setType(type).putExtra(Intent.EXTRA_STREAM, uri).addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION)
        send.clipData = ClipData.newRawUri("", uri)
        host.start(Intent.createChooser(send, word(R.string.hand_over)).addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION), 32)
    }

    private fun qr(): Unit = ask({ it.findingsQr(aircraft) }) { qr ->
        draw {
            title(word(R.string.show_qr))
            picture(QrPicture(host.activity, qr.svg).apply { contentDescription = qr.says }, 320)
            line(qr.says)
            action(word(R.string.back), "usual", "back") { load() }
        }
    }
}

class BeforeFlightScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.beforeFlight(aircraft) }) { before ->
        draw {
            title(word(R.string.before_flight))
            before.cautions.forEach { caution(it) }
            quiet(before.lastRead)
            if (before.findings.isEmpty()) line(word(R.string.no_findings))
            for (line in before.findings) ruled(line.title, listOfNotNull(line.says, line.concern).joinToString(" · "), "finding:${line.short}") { host.go(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            action(word(R.string.i_have_read), "main", "read") { write({ it.readBeforeFlight(aircraft) }) { word(R.string.read_saved) } }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}

/** The proof code, after finishing. Drawn again after a turn of the phone without finishing again. */
class FinishedScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load() {
        val code = at["code"]
        if (code == null) ask({ it.finishWalkaround(aircraft) }) { done -> host.turn(at.with("code" to done.proofCode, "says" to done.says, "svg" to done.qrSvg)) }
        else draw {
            title(word(R.string.finished))
            picture(QrPicture(host.activity, at["svg"].orEmpty()).apply { contentDescription = word(R.string.proof_code) }, 200)
            heading(word(R.string.proof_code))
            line(code)
            quiet(at["says"].orEmpty())
            if (host.keep.backupAt == null) caution(word(R.string.no_backup))
            action(word(R.string.hand_over), "main", "handover") { host.turn(Where("handover", mapOf("aircraft" to aircraft))) }
            action(word(R.string.done), "usual", "done") { host.home(Where("aircraft")); host.go(Where("walk", mapOf("aircraft" to aircraft))) }
        }
    }
}

/** A pack opened with this app: what would come is said before anything is taken in. */
class ReceiveScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = take(true) { received ->
        draw {
            title(word(R.string.receive))
            line(received.says)
            received.check.rows.filter { it.status == "failure" }.take(8).forEach { ruled(it.what, it.whatToDo) }
            quiet(received.check.worth)
            if (!received.refused) action(word(R.string.take_in), "main", "take_in") { take(false) { done -> host.say(done.says); host.home(Where("aircraft")) } }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }

    private fun take(dry: Boolean, then: (witnessmark.door.ReceivedView) -> Unit) = long(R.string.receive, { book ->
        val (source, open) = (host.activity as ShellActivity).path(Uri.parse(at["uri"]))
        open.use { book.receive(source, dry) }
    }, then)
}
