package witnessmark.shell.papers

import android.content.Intent
import witnessmark.door.Choice
import witnessmark.door.paperKinds
import witnessmark.shell.R
import witnessmark.shell.ShellActivity
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Papers in a burst, in the order of taking; photos from the gallery, with that said of them. */
class PapersScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = apart({ paperKinds() }) { kinds -> show(kinds) }

    private fun show(kinds: List<Choice>): Unit = draw {
        title(word(R.string.papers))
        line(word(R.string.papers_help))
        for (kind in kinds) ruled(kind.title, word(R.string.paper_photo), "paper:${kind.key}") {
            host.go(Where("viewfinder", mapOf("aircraft" to aircraft, "kind" to "paper", "paper" to kind.key, "burst" to "yes", "says" to kind.title)))
        }
        action(word(R.string.from_gallery), "usual", "gallery") {
            val pick = Intent(Intent.ACTION_OPEN_DOCUMENT).addCategory(Intent.CATEGORY_OPENABLE).setType("image/*").putExtra(Intent.EXTRA_ALLOW_MULTIPLE, true)
            if (!host.start(pick, 21)) { host.say(word(R.string.no_picker)); load() }
        }
        action(word(R.string.back), "usual", "back") { host.back() }
    }

    override fun answered(code: Int, ok: Boolean, data: Intent?) {
        if (code != 21 || !ok || data == null) return
        val clip = data.clipData
        val uris = if (clip != null) (0 until clip.itemCount).map { clip.getItemAt(it).uri } else listOfNotNull(data.data)
        (host.activity as ShellActivity).take(uris) { load() }
    }
}
