package witnessmark.shell.walk

import android.text.InputType
import witnessmark.door.WalkaroundGiven
import witnessmark.door.purposes
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** The route and where it stands. Nothing has to be said to begin: the first stop is one tap away. */
class WalkScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.walk(aircraft, host.keep.route(aircraft)) to purposes() }) { (walk, purposes) ->
        draw {
            title(walk.registration, walk.purposeSays)
            walk.notices.forEach { caution(it) }
            for (stop in walk.stops) ruled(stop.name, stop.says, "stop:${stop.key}") { stop(stop.key) }
            if (walk.walkaround == null) {
                heading(word(R.string.purpose))
                var hours = ""
                field(word(R.string.hours), "", "hours", InputType.TYPE_CLASS_NUMBER or InputType.TYPE_NUMBER_FLAG_DECIMAL) { hours = it }
                for (purpose in purposes) ruled(purpose.title, "", "purpose:${purpose.key}") {
                    ask({ it.startWalkaround(aircraft, WalkaroundGiven(purpose.key, hours.ifBlank { null }, null)) }) { stop(walk.nextStop ?: walk.stops.first().key) }
                }
            }
            val next = walk.nextStop
            action(if (next == null) word(R.string.all_looked) else word(R.string.to_stop, walk.stops.first { it.key == next }.name), "main", "next") {
                if (next != null) stop(next) else host.go(Where("left", mapOf("aircraft" to aircraft)))
            }
            if (walk.unplaced > 0u) action(many(R.plurals.unplaced, walk.unplaced.toInt()), "usual", "unplaced") { host.go(Where("unplaced", mapOf("aircraft" to aircraft))) }
            action(word(R.string.more), "usual", "more") { host.go(Where("more", mapOf("aircraft" to aircraft))) }
            action(word(R.string.route), "small", "order") { host.go(Where("order", mapOf("aircraft" to aircraft))) }
            walk.walkaround?.let { walkaround ->
                action(word(R.string.wrong_aircraft), "small", "wrong") { host.go(Where("aircraft", mapOf("walkaround" to walkaround, "from" to aircraft))) }
                action(word(R.string.finish), "small", "finish") { host.go(Where("left", mapOf("aircraft" to aircraft))) }
            }
        }
    }

    private fun stop(key: String) = host.go(Where("stop", mapOf("aircraft" to aircraft, "stop" to key)))
}

/** The route turned, or in the person's own order: a tapped stop moves one place up. */
class OrderScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.walk(aircraft, host.keep.route(aircraft)) }) { walk ->
        draw {
            title(word(R.string.route), walk.registration)
            quiet(word(R.string.route_help))
            walk.stops.forEachIndexed { i, stop ->
                ruled(stop.name, "${i + 1}", "up:${stop.key}") {
                    val keys = walk.stops.map { it.key }.toMutableList()
                    if (i > 0) { keys.add(i - 1, keys.removeAt(i)); host.keep.order(aircraft, keys); load() }
                }
            }
            action(word(R.string.turn_route), "main", "turn") { host.keep.turn(aircraft); load() }
            action(word(R.string.done), "usual", "done") { host.back() }
        }
    }
}
