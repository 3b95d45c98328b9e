package witnessmark.shell.readings

import android.text.InputType
import witnessmark.door.Choice
import witnessmark.door.ReadingLine
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.kit.answers
import witnessmark.shell.kit.asked
import witnessmark.shell.work.Where

class ReadingsScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.readings(aircraft) }) { readings ->
        draw {
            title(word(R.string.readings))
            for (kind in readings.kinds) ruled(kind.title, kind.last, "reading:${kind.key}") { host.go(Where("reading", mapOf("aircraft" to aircraft, "kind" to kind.key)).with("stop" to at["stop"])) }
            if (readings.values.isNotEmpty()) heading(word(R.string.written))
            readings.values.take(20).forEach { quiet(it) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}

/** One value, where it was read, and what has to be asked with it. */
class ReadingScreen(host: Host, at: Where) : Screen(host, at) {
    private var unit by NotedNumber("unit")
    private var place by Noted("place", "")
    private var chosen by Noted("chosen", "")

    override fun load(): Unit = ask({ book ->
        val kind = book.readings(aircraft).kinds.first { kind -> kind.key == at["kind"] }
        // Where the person stands, its zones come first.
        val here = at["stop"]?.let { stop -> book.stop(aircraft, stop, host.keep.route(aircraft)).zones.map { it.code } }.orEmpty()
        kind to kind.zones.sortedBy { it.key !in here }
    }) { (kind, zones) ->
        if (zones.size == 1) place = zones[0].key
        show(kind, zones)
    }

    private fun show(kind: ReadingLine, zones: List<Choice>): Unit = draw {
        title(kind.title)
        quiet(kind.last)
        if (zones.size > 1) { heading(word(R.string.where_read)); choose(zones.map { it.key to it.title }, place, "place") { place = it; show(kind, zones) } }
        var value = chosen
        if (kind.choices.isNotEmpty()) choose(kind.choices.map { it to it }, chosen, "value") { chosen = it; show(kind, zones) }
        else field(kind.title, "", "value", if (kind.number) NUMBER else InputType.TYPE_CLASS_TEXT) { value = it }
        if (kind.units.isNotEmpty()) ruled(word(R.string.unit), kind.units[unit], "unit") { unit = (unit + 1) % kind.units.size; show(kind, zones) }
        asked(kind.asks, this@ReadingScreen) { show(kind, zones) }
        action(word(R.string.keep), "main", "keep") {
            if (value.isBlank()) host.tell(word(R.string.no_value))
            else if (zones.size > 1 && place.isEmpty()) host.tell(word(R.string.where_read))
            else ask({ it.writeReading(aircraft, kind.key, value, kind.units.getOrNull(unit), place.ifEmpty { null }, answers(kind.asks)) }) { host.say(word(R.string.reading_saved, kind.title, value)); host.back() }
        }
        action(word(R.string.back), "small", "back") { host.back() }
    }

    private companion object { const val NUMBER = InputType.TYPE_CLASS_NUMBER or InputType.TYPE_NUMBER_FLAG_DECIMAL or InputType.TYPE_NUMBER_FLAG_SIGNED }
}
