package witnessmark.shell.write

import android.text.InputType
import witnessmark.door.PlaceGiven
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** A typed note: kept as it is, or read for what it says. */
class WriteScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load() {
        var text = at["text"].orEmpty()
        draw {
            title(word(R.string.write))
            field(word(R.string.write_hint), text, "note", InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_SENTENCES or InputType.TYPE_TEXT_FLAG_MULTI_LINE) { text = it }
            val voice = at["voice"]
            if (voice != null) {
                quiet(word(R.string.words_of_recording))
                action(word(R.string.keep), "main", "keep") {
                    if (text.isNotBlank()) ask({ it.addTranscript(voice, text, "person", null, "en") }) { host.say(word(R.string.words_saved)); host.back() }
                }
                action(word(R.string.back), "small", "back") { host.back() }
                return@draw
            }
            action(word(R.string.read_it), "main", "read") {
                if (text.isNotBlank()) host.turn(Where("heard", mapOf("aircraft" to aircraft, "text" to text)).with("stop" to at["stop"]))
            }
            action(word(R.string.keep_note), "usual", "keep") {
                if (text.isNotBlank()) ask({ it.writeNote(text, PlaceGiven(aircraft.ifEmpty { null }, at["stop"], at["zone"], at["finding"], null, true)) }) { host.say(it.says); host.back() }
            }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }
}
