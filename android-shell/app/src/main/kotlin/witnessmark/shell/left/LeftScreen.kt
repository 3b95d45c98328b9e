package witnessmark.shell.left

import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** What is left to look at, and the way to finish all the same. */
class LeftScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.left(aircraft, host.keep.route(aircraft)) to it.walk(aircraft, host.keep.route(aircraft)).walkaround }) { (left, walkaround) ->
        draw {
            title(word(R.string.left))
            line(left.says)
            quiet(left.caution)
            for (stop in left.stops) ruled(stop.name, stop.zones.joinToString { it.key }, "stop:${stop.key}") { host.go(Where("stop", mapOf("aircraft" to aircraft, "stop" to stop.key))) }
            val first = left.stops.firstOrNull()
            if (first != null) action(word(R.string.to_stop, first.name), "main", "next") { host.go(Where("stop", mapOf("aircraft" to aircraft, "stop" to first.key))) }
            if (left.unplaced > 0u) action(many(R.plurals.unplaced, left.unplaced.toInt()), "usual", "unplaced") { host.go(Where("unplaced", mapOf("aircraft" to aircraft))) }
            if (walkaround != null) action(word(R.string.finish), if (first == null) "main" else "usual", "finish") { host.turn(Where("finished", mapOf("aircraft" to aircraft))) }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }
}
