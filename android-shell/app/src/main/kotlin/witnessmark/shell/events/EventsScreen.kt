package witnessmark.shell.events

import witnessmark.door.events
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

class EventsScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = apart({ events() }) { list ->
        draw {
            title(word(R.string.events))
            for (event in list) ruled(event.title, event.words, "event:${event.key}") { host.go(Where("event", mapOf("aircraft" to aircraft, "event" to event.key))) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}

/** What a look cannot settle comes first. */
class EventScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.event(aircraft, at["event"].orEmpty()) }) { event ->
        var text = ""
        draw {
            title(event.title)
            caution(event.cannotClear)
            event.cautions.forEach { caution(it) }
            if (event.hold) caution(word(R.string.hold))
            event.asks.forEach { line(it) }
            field(word(R.string.words), "", "words") { text = it }
            heading(word(R.string.where_to_look))
            for (place in event.places) {
                ruled("${place.zone} ${place.name}", place.lookFor.joinToString("; ") { it.text }, "zone:${place.zone}") { host.go(Where("zone", mapOf("aircraft" to aircraft, "zone" to place.zone))) }
            }
            quiet(event.source)
            action(word(R.string.write_event), "main", "write") { ask({ it.writeEvent(aircraft, event.key, text.ifBlank { null }) }) { host.say(word(R.string.event_saved)); host.back() } }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }
}
