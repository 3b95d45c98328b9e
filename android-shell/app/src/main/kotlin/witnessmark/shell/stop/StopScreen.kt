package witnessmark.shell.stop

import android.view.KeyEvent
import witnessmark.door.StopView
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** What a person sees on the ramp. What is offered, in which order and how large, is the core's. */
class StopScreen(host: Host, at: Where) : Screen(host, at) {
    private val stop get() = at["stop"].orEmpty()
    private var shown: StopView? = null

    override fun load(): Unit = ask({ it.stop(aircraft, stop, host.keep.route(aircraft)) }) { view ->
        shown = view
        draw { stopPage(view, ::act, ::passBy, { zone -> host.go(Where("zone", mapOf("aircraft" to aircraft, "zone" to zone))) }, { host.go(Where("more", mapOf("aircraft" to aircraft))) }) }
    }

    private fun here(screen: String) = Where(screen, mapOf("aircraft" to aircraft, "stop" to stop))

    private fun act(key: String) {
        when (key) {
            "photo" -> host.go(here("viewfinder"))
            "measure" -> host.go(here("viewfinder").with("then" to "measure"))
            "voice" -> host.go(here("voice"))
            "write" -> host.go(here("write"))
            "nothing_found" -> nothingFound()
            "not_seen" -> host.go(here("notseen"))
            "paper" -> host.go(here("papers"))
            "reading" -> host.go(here("readings"))
            "again" -> host.go(here("again"))
            "view" -> shown?.views?.firstOrNull()?.let { host.go(here("viewfinder").with("view" to it.key, "says" to it.title)) } ?: host.go(here("viewfinder"))
            else -> host.go(here("more"))
        }
    }

    private fun nothingFound() = ask({ it.nothingFoundNext(aircraft, stop, host.keep.route(aircraft)) }) { next ->
        host.say(next.says)
        val on = next.stop
        if (on == null) host.turn(Where("left", mapOf("aircraft" to aircraft))) else host.turn(at.with("stop" to on))
        // One more page over the next stop, only where something known here was passed over.
        if (next.notAsked.isNotEmpty()) host.go(Where("unasked", mapOf("aircraft" to aircraft, "findings" to next.notAsked.joinToString(",") { it.id })))
    }

    /** Nothing is written: the stop stays not looked at. */
    private fun passBy() {
        val on = shown?.nextStop
        if (on == null) host.turn(Where("left", mapOf("aircraft" to aircraft))) else host.turn(at.with("stop" to on))
    }

    override fun key(code: Int): Boolean {
        if (code != KeyEvent.KEYCODE_HEADSETHOOK && code != KeyEvent.KEYCODE_CAMERA && code != KeyEvent.KEYCODE_MEDIA_PLAY_PAUSE) return false
        act("photo")
        return true
    }
}
