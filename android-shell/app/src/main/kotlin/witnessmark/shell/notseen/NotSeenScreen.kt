package witnessmark.shell.notseen

import witnessmark.door.LookGiven
import witnessmark.door.notSeenReasons
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Could not be seen, and why: one tap for the reason, of every zone here not looked at yet. */
class NotSeenScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.stop(aircraft, at["stop"].orEmpty(), host.keep.route(aircraft)) to notSeenReasons() }) { (stop, reasons) ->
        val zones = stop.zones.filter { it.look == "not_looked_at" }.ifEmpty { stop.zones }
        draw {
            title(word(R.string.why_not_seen), stop.name)
            zones.forEach { ruled("${it.code} ${it.name}", it.lookSays) }
            var own = ""
            field(word(R.string.other_reason), "", "reason") { own = it }
            for (reason in reasons) action(reason.title, "usual", "why:${reason.key}") { save(zones.map { it.code }, reason.key, stop.nextStop) }
            action(word(R.string.keep_reason), "small", "own") { if (own.isNotBlank()) save(zones.map { it.code }, own, stop.nextStop) }
        }
    }

    private fun save(zones: List<String>, why: String, next: String?): Unit = ask({ book ->
        if (book.walk(aircraft, host.keep.route(aircraft)).walkaround == null) book.startWalkaround(aircraft, witnessmark.door.WalkaroundGiven(null, null, null))
        book.look(aircraft, LookGiven(zones, why, null, null, emptyMap()))
    }) {
        host.say(many(R.plurals.not_seen_saved, zones.size))
        host.back()
        if (next != null) host.turn(Where("stop", mapOf("aircraft" to aircraft, "stop" to next)))
    }
}
