package witnessmark.shell.readings

import android.text.InputType
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

class ReadingsScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.readings(aircraft) }) { readings ->
        draw {
            title(word(R.string.readings))
            for (kind in readings.kinds) ruled(kind.title, kind.last, "reading:${kind.key}") { host.go(Where("reading", mapOf("aircraft" to aircraft, "kind" to kind.key))) }
            if (readings.values.isNotEmpty()) heading(word(R.string.written))
            readings.values.take(20).forEach { quiet(it) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}

/** One value. Its question, where it has one, is answered beside it. */
class ReadingScreen(host: Host, at: Where) : Screen(host, at) {
    private var unit = 0; private var value = ""; private var answer = ""
    override fun load(): Unit = ask({ it.readings(aircraft).kinds.first { kind -> kind.key == at["kind"] } }) { kind -> show(kind) }
    private fun show(kind: witnessmark.door.ReadingLine): Unit = draw {
        title(kind.title)
        quiet(kind.last)
        field(kind.title, value, "value", InputType.TYPE_CLASS_NUMBER or InputType.TYPE_NUMBER_FLAG_DECIMAL or InputType.TYPE_NUMBER_FLAG_SIGNED) { value = it }
        if (kind.units.isNotEmpty()) ruled(word(R.string.unit), kind.units[unit], "unit") { unit = (unit + 1) % kind.units.size; show(kind) }
        if (kind.ask.isNotEmpty()) field(kind.ask, answer, "ask") { answer = it }
        action(word(R.string.keep), "main", "keep") {
            if (value.isNotBlank()) ask({
                it.writeReading(aircraft, kind.key, value, kind.units.getOrNull(unit), null, if (answer.isBlank()) emptyMap() else mapOf("answer" to answer))
            }) { host.say(word(R.string.reading_saved, kind.title, value)); host.back() }
        }
        action(word(R.string.back), "small", "back") { host.back() }
    }
}
