package witnessmark.shell.zone

import witnessmark.door.againChoices
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** A zone's history: every walkaround, *not looked at* among them. */
class ZoneScreenShown(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.zone(aircraft, at["zone"].orEmpty()) to againChoices() }) { (zone, whens) ->
        draw {
            title(zone.name, word(R.string.zone_of, zone.code))
            line(zone.says)
            if (zone.looks.isNotEmpty()) heading(word(R.string.looks))
            for (look in zone.looks) ruled("${look.date}  ${look.by}", look.says)
            if (zone.findings.isNotEmpty()) heading(word(R.string.findings))
            for (line in zone.findings) ruled(line.title, line.says, "finding:${line.short}") { host.go(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            for (capture in zone.captures) if (capture.kind == "photo") photo(capture.path, capture.orientation.toInt(), capture.says, 140) else ruled(capture.says, capture.text.orEmpty())
            action(word(R.string.photo), "main", "photo") { host.go(Where("viewfinder", mapOf("aircraft" to aircraft, "zone" to zone.code))) }
            action(word(R.string.new_finding), "usual", "new") { host.go(Where("newfinding", mapOf("aircraft" to aircraft, "zone" to zone.code))) }
            heading(word(R.string.again))
            for (time in whens) ruled(time.title, "", "again:${time.key}") { write({ it.lookAgainZone(aircraft, zone.code, time.key) }) { word(R.string.again_saved) } }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}
