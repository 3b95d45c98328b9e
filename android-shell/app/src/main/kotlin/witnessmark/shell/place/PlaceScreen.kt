package witnessmark.shell.place

import witnessmark.door.PlaceGiven
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Hangs one capture on a finding, a zone, or a new finding there. */
class PlaceScreen(host: Host, at: Where) : Screen(host, at) {
    private val entry get() = at["entry"].orEmpty()
    override fun load(): Unit = ask({ book ->
        val capture = book.unplaced(aircraft).captures.firstOrNull { it.entry == entry }
        val walk = book.walk(aircraft, host.keep.route(aircraft))
        val stops = walk.stops.map { it to book.stop(aircraft, it.key, host.keep.route(aircraft)).zones }
        Triple(capture, book.findings(aircraft).filter { it.open }, stops)
    }) { (capture, findings, stops) ->
        draw {
            title(word(R.string.place))
            for ((stop, zones) in stops) {
                heading(stop.name)
                for (zone in zones) ruled("${zone.code} ${zone.name}", zone.lookSays, "zone:${zone.code}") { save(zone.code, null, word(R.string.placed, zone.code)) }
            }
            if (findings.isNotEmpty()) heading(word(R.string.on_finding))
            for (finding in findings) ruled(finding.title, finding.short, "finding:${finding.id}") { save(null, finding.id, word(R.string.placed, finding.title)) }
            capture?.let { quiet(it.says) }
            action(word(R.string.new_finding), "main", "new") { host.turn(Where("newfinding", mapOf("aircraft" to aircraft, "entry" to entry))) }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }

    private fun save(zone: String?, finding: String?, says: String): Unit = ask({ book ->
        val at = zone ?: finding?.let { book.finding(aircraft, it).line.zone }
        book.place(entry, PlaceGiven(aircraft, null, at, finding, null, true))
    }) { host.say(says); host.back() }
}
