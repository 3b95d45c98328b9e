package witnessmark.shell.first

import android.text.InputType
import witnessmark.door.Author
import witnessmark.door.firstStart
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Said
import witnessmark.shell.work.Where

/** Three things asked, one after the other; answers are kept in the place, so that turning the phone loses none. */
class FirstScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = apart({ firstStart() }) { start ->
        val step = at["step"]?.toInt() ?: 0
        val asked = start.asks[step]
        draw {
            if (step == 0) { quiet(start.says); quiet(start.caution) }
            title(asked.asked, many(R.plurals.question_of, start.asks.size).format(step + 1))
            quiet(asked.why)
            if (asked.key == "aircraft") {
                var registration = at["registration"].orEmpty(); var type = at["type"].orEmpty()
                field(word(R.string.registration), registration, "registration", InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_CHARACTERS) { registration = it }
                field(word(R.string.type_name), type, "type") { type = it }
                heading(word(R.string.laid_out_like))
                choose(asked.choices.map { it.key to it.title }, null, "choice") { layout -> done(registration, type, layout) }
            } else if (asked.choices.isEmpty()) {
                var text = at[asked.key].orEmpty()
                field(asked.asked, text, asked.key, InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_WORDS) { text = it }
                action(word(R.string.on), "main", "on") { if (text.isNotBlank()) on(asked.key, text, step) }
            } else choose(asked.choices.map { it.key to it.title }, at[asked.key], "choice") { on(asked.key, it, step) }
        }
    }

    private fun on(key: String, answer: String, step: Int) = host.go(at.with(key to answer, "step" to (step + 1).toString()))

    private fun done(registration: String, type: String, layout: String) {
        host.core.make(Author(at["name"].orEmpty(), at["role"].orEmpty())) { made ->
            if (made is Said.Wrong) wrong(made) else ask({ it.addAircraft(registration, type, null, layout, false) }) { id ->
                host.home(Where("aircraft"))
                host.go(Where("walk", mapOf("aircraft" to id)))
                // What was shared to the app before there was a notebook.
                host.takeIn()
            }
        }
    }
}
