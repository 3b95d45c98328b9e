package witnessmark.shell.newfinding

import witnessmark.door.FindingGiven
import witnessmark.door.PlaceGiven
import witnessmark.door.conditions
import witnessmark.shell.R
import witnessmark.shell.finding.sighting
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.measure.carried
import witnessmark.shell.work.Where

/** Zone, then kind, then it is open; the words for the place may stay away. */
class NewFindingScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load() {
        val zone = at["zone"]
        if (zone == null) ask({ book -> book.walk(aircraft, host.keep.route(aircraft)).stops.map { it.name to book.stop(aircraft, it.key, host.keep.route(aircraft)).zones } }) { stops ->
            draw {
                title(word(R.string.which_zone))
                for ((name, zones) in stops) { heading(name); for (z in zones) ruled("${z.code} ${z.name}", z.lookSays, "zone:${z.code}") { host.turn(at.with("zone" to z.code)) } }
                action(word(R.string.back), "small", "back") { host.back() }
            }
        } else apart({ conditions() }) { list ->
            var part = ""
            draw {
                title(word(R.string.which_condition), word(R.string.zone_of, zone))
                field(word(R.string.part), "", "part") { part = it }
                for (condition in list) ruled(condition.title, condition.meaning, "condition:${condition.key}") {
                    ask({ book ->
                        val evidence = listOfNotNull(at["entry"])
                        val measure = carried(at["measure"])
                        val id = book.openFinding(aircraft, FindingGiven(zone, condition.key, part.ifBlank { null }, emptyList()), if (measure == null) sighting(null, evidence = evidence) else sighting(null, listOf(measure), null, "measured", evidence = evidence))
                        at["entry"]?.let { book.place(it, PlaceGiven(aircraft, null, zone, id, null, true)) }
                        id
                    }) { id -> host.say(word(R.string.finding_opened)); host.turn(Where("finding", mapOf("aircraft" to aircraft, "finding" to id))) }
                }
                action(word(R.string.back), "small", "back") { host.back() }
            }
        }
    }
}
