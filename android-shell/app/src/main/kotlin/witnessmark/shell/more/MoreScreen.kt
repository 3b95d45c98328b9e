package witnessmark.shell.more

import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** The rest, as a table of contents. */
class MoreScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = draw {
        title(word(R.string.more))
        val rows = listOf(
            "walk" to R.string.route_and_stops, "findings" to R.string.findings, "unplaced" to R.string.unplaced_title,
            "again" to R.string.again, "left" to R.string.left, "readings" to R.string.readings, "events" to R.string.events,
            "papers" to R.string.papers, "before" to R.string.before_flight, "handover" to R.string.hand_over, "settings" to R.string.settings,
        )
        for ((screen, name) in rows) ruled(word(name), "", "go:$screen") { host.turn(Where(screen, mapOf("aircraft" to aircraft)).with("stop" to at["stop"])) }
        action(word(R.string.undo_last), "usual", "undo") { ask({ it.undo(aircraft) }) { host.say(it.says); load() } }
        action(word(R.string.back), "usual", "back") { host.back() }
    }
}
