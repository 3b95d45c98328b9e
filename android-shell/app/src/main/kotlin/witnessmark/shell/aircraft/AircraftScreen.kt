package witnessmark.shell.aircraft

import android.text.InputType
import witnessmark.door.firstStart
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Which aircraft; with a walk of another open, one tap moves it to the right one. */
class AircraftScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.aircraft() to (at["walkaround"]?.let { _ -> it.settings() }) }) { (list, _) ->
        val walkaround = at["walkaround"]
        draw {
            title(word(if (walkaround == null) R.string.aircraft else R.string.which_aircraft))
            for (craft in list) {
                if (walkaround != null && craft.id == at["from"]) { quiet(word(R.string.walk_is_here, craft.registration)); continue }
                val says = if (walkaround == null) craft.says.removePrefix("${craft.registration} ") else word(R.string.move_here)
                ruled(craft.registration, says, "aircraft:${craft.registration}") {
                    if (walkaround == null) host.go(Where("walk", mapOf("aircraft" to craft.id)))
                    else ask({ it.moveWalkaround(walkaround, craft.id) }) { says ->
                        host.say(says)
                        host.home(Where("aircraft"))
                        host.go(Where("walk", mapOf("aircraft" to craft.id)))
                    }
                }
            }
            action(word(R.string.add_aircraft), "usual", "add") { host.go(Where("add")) }
            if (walkaround == null) action(word(R.string.settings), "small", "settings") { host.go(Where("settings")) }
        }
    }
}

class AddScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = apart({ firstStart().layouts }) { layouts ->
        draw {
            title(word(R.string.add_aircraft))
            var registration = ""; var type = ""; var serial = ""
            field(word(R.string.registration), "", "registration", InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_CHARACTERS) { registration = it }
            field(word(R.string.type_name), "", "type") { type = it }
            field(word(R.string.serial), "", "serial") { serial = it }
            heading(word(R.string.laid_out_like))
            choose(layouts.map { it.key to it.title }, null, "choice") { layout ->
                ask({ it.addAircraft(registration, type, serial.ifBlank { null }, layout, false) }) { id -> host.turn(Where("walk", mapOf("aircraft" to id))) }
            }
        }
    }
}
