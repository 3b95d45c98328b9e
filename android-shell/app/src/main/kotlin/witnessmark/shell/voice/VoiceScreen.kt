package witnessmark.shell.voice

import android.Manifest
import witnessmark.shell.R
import witnessmark.shell.hardware.Recorder
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Job
import witnessmark.shell.work.Where

/** Records, always with a sign; the words come from the device's recogniser if it has one, else later. */
class VoiceScreen(host: Host, at: Where) : Screen(host, at) {
    private var recorder: Recorder? = null
    private var job: Job? = null
    private var heard: List<String> = emptyList()

    override fun load() {
        if (!host.may(Manifest.permission.RECORD_AUDIO)) {
            host.askFor(Manifest.permission.RECORD_AUDIO)
            without(R.string.voice_asked)
            return
        }
        ask({ it.phrases(aircraft, at["stop"], 100u) }) { phrases -> record(phrases) }
    }

    private fun without(text: Int): Unit = draw {
        title(word(R.string.voice))
        line(word(text))
        action(word(R.string.write_instead), "main", "write") { host.turn(at.copy(screen = "write")) }
        action(word(R.string.back), "usual", "back") { host.back() }
    }

    private fun record(phrases: List<String>) {
        val words = host.ports.recogniser.here(host.activity)
        val made = host.ports.recorder(words).also { recorder = it }
        val now = host.taking.begin("voice", aircraft.ifEmpty { null }, at["stop"], ending = made.ending).also { job = it }
        if (!made.start(host.activity, now.file)) { recorder = null; host.taking.forget(now); without(R.string.voice_fails); return }
        if (words) host.ports.recogniser.listen(host.activity, phrases, made.feed()) { heard = it; if (it.isNotEmpty()) stop() }
        draw {
            title(word(R.string.recording_now))
            line(word(R.string.other_voices))
            if (!words) line(word(R.string.no_recogniser))
            action(word(R.string.stop_keep), "main", "stop") { stop() }
        }
    }

    private fun stop() {
        val now = recorder ?: return
        recorder = null
        now.stop()
        host.ports.recogniser.stop()
        val words = heard
        val mine = job
        ask({ book ->
            val settled = host.taking.settle(book)
            val voice = settled.kept.firstOrNull { it.first.note == mine?.note }?.second
            if (voice != null && words.isNotEmpty()) book.addTranscript(voice.entry, words[0], "SpeechRecognizer", null, "en")
            settled
        }) { settled ->
            job = null
            host.say(settled.says().ifEmpty { word(R.string.nothing_recorded) })
            if (words.isEmpty()) host.back()
            else host.turn(Where("heard", mapOf("aircraft" to aircraft, "text" to words[0], "others" to words.drop(1).joinToString("\n"), "spoken" to "yes")).with("stop" to at["stop"]))
        }
    }

    override fun permitted(permission: String, yes: Boolean) { if (yes) load() else without(R.string.voice_refused) }
    /** Leaving, a call coming in, a kill: what was recorded is kept all the same. */
    override fun paused() { if (recorder != null) stop() }
    override fun left() { if (recorder != null) { recorder?.stop(); recorder = null; host.ports.recogniser.stop() }; super.left() }
}
