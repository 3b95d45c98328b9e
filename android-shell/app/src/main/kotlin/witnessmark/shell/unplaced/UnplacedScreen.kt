package witnessmark.shell.unplaced

import witnessmark.door.CaptureLine
import witnessmark.door.PlaceGiven
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** What waits for a place, oldest first; the zones where the person stood are one tap each. */
class UnplacedScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.unplaced(aircraft) }) { unplaced ->
        draw {
            title(word(R.string.unplaced_title))
            line(unplaced.says)
            for (capture in unplaced.captures.drop(1)) ruled(capture.says, capture.text.orEmpty(), "capture:${capture.entry}") { other(capture) }
            val first = unplaced.captures.firstOrNull()
            if (first != null) {
                if (first.kind == "photo") photo(first.path, first.orientation.toInt(), first.says, 220) else line(first.says)
                first.text?.let { line(it) }
                for (zone in first.near.take(3)) action("${zone.key} ${zone.title}", "usual", "near:${zone.key}") { place(first, zone.key) }
                action(word(R.string.other_place), if (first.near.isEmpty()) "main" else "usual", "other") { other(first) }
                if (first.kind == "voice" && first.text == null) action(word(R.string.write_words), "usual", "words") { host.go(Where("write", mapOf("aircraft" to aircraft, "voice" to first.entry))) }
                if (first.kind == "voice") action(word(R.string.remove_recording), "small", "remove") {
                    write({ it.removeRecording(first.entry, word(R.string.removed_why)) }) { word(R.string.removed) }
                }
            }
            action(word(R.string.done), if (first == null) "main" else "small", "done") { host.back() }
        }
    }

    private fun place(capture: CaptureLine, zone: String) =
        write({ it.place(capture.entry, PlaceGiven(aircraft, null, zone, null, null, true)) }) { word(R.string.placed, zone) }
    private fun other(capture: CaptureLine) = host.go(Where("place", mapOf("aircraft" to aircraft, "entry" to capture.entry)))
}
