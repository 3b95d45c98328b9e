package witnessmark.shell.kit

import android.app.Activity
import android.content.Intent
import android.os.Handler
import android.os.Looper
import android.text.format.Formatter
import android.view.View
import witnessmark.door.Notebook
import witnessmark.shell.R
import witnessmark.shell.hardware.Ports
import witnessmark.shell.work.CoreThread
import witnessmark.shell.work.Keep
import witnessmark.shell.work.Said
import witnessmark.shell.work.Taking
import witnessmark.shell.work.Where

/** What a screen may ask of the activity that shows it. */
interface Host {
    val activity: Activity
    val core: CoreThread
    val keep: Keep
    val ports: Ports
    val taking: Taking
    val ink: Ink
    /** Goes on; back comes here again. */
    fun go(where: Where)
    /** Goes there instead; back does not come here again. */
    fun turn(where: Where)
    fun back()
    /** The stack anew, with this at its bottom. */
    fun home(where: Where)
    fun again()
    /** Shown above the actions of the next page drawn, and spoken. */
    fun say(text: String)
    /** Shown and spoken on the page that is there now; nothing on it moves or is lost. False if there is no page. */
    fun tell(text: String): Boolean
    /** Keeps a word with the place that is on top, so that turning the phone or a kill loses nothing typed. */
    fun note(key: String, value: String)
    fun show(view: View)
    fun page(screen: Screen): Page
    /** Starts something of the system whose answer comes to [Screen.answered]. */
    fun start(intent: Intent, code: Int): Boolean
    fun may(permission: String): Boolean
    fun askFor(vararg permissions: String)
    fun takeIn()
}

/** A small presenter: asks the core, draws what it returns, carries taps back. */
abstract class Screen(val host: Host, at: Where) {
    var at: Where = at
        private set
    val aircraft: String get() = at["aircraft"].orEmpty()
    private var gone = false
    private var drawn = false
    private var working = false

    /** What was typed or chosen here and not yet kept; it goes when the place is left. */
    fun noted(key: String): String? = at[Where.NOTED + key]
    fun note(key: String, value: String) {
        if (gone || noted(key) == value) return
        at = at.with(Where.NOTED + key to value)
        host.note(key, value)
    }
    /** A choice that survives turning the phone: `private var unit by Noted("unit", "")`. */
    protected class Noted(private val key: String, private val start: String) {
        operator fun getValue(screen: Screen, property: kotlin.reflect.KProperty<*>): String = screen.noted(key) ?: start
        operator fun setValue(screen: Screen, property: kotlin.reflect.KProperty<*>, value: String) = screen.note(key, value)
    }
    protected class NotedNumber(private val key: String) {
        operator fun getValue(screen: Screen, property: kotlin.reflect.KProperty<*>): Int = screen.noted(key)?.toIntOrNull() ?: 0
        operator fun setValue(screen: Screen, property: kotlin.reflect.KProperty<*>, value: Int) = screen.note(key, "$value")
    }

    abstract fun load()

    /** Asks the core; a trouble is said where the person stands, nothing else changes. */
    fun <T> ask(call: (Notebook) -> T, then: (T) -> Unit) = host.core.ask(call) { answer(it, then) }
    fun <T> apart(call: () -> T, then: (T) -> Unit) = host.core.apart(call) { answer(it, then) }
    private fun <T> answer(said: Said<T>, then: (T) -> Unit) {
        if (gone) return
        when (said) {
            is Said.Fine -> then(said.value)
            is Said.Wrong -> wrong(said)
        }
    }
    open fun wrong(said: Said.Wrong) {
        if (drawn && host.tell(said.words())) return
        host.go(Where("trouble", mapOf("code" to said.code, "what" to said.what, "where" to said.where, "do" to said.whatToDo)))
    }

    /** Writes, says what was saved, and draws this screen anew. */
    fun <T> write(call: (Notebook) -> T, says: (T) -> String) = ask(call) { host.say(says(it)); load() }

    /**
     * Work over every file. If it takes a while the page says how far it is, and one tap ends it; so does
     * leaving the screen.
     */
    fun <T> long(about: Int, call: (Notebook) -> T, then: (T) -> Unit) {
        val main = Handler(Looper.getMainLooper())
        var over = false
        var shown = false
        val tick = object : Runnable {
            override fun run() {
                if (over || gone) return
                if (!shown) draw {
                    title(word(about))
                    line(word(R.string.long_work))
                    action(word(R.string.stop_work), "main", "stop_work") { host.core.cancel() }
                }
                shown = true
                host.core.come()?.let { host.tell(word(R.string.so_far, it.files.toString(), Formatter.formatShortFileSize(host.activity, it.bytes.toLong()))) }
                main.postDelayed(this, 2_000)
            }
        }
        working = true
        main.postDelayed(tick, 500)
        host.core.ask(call) { said ->
            over = true
            working = false
            main.removeCallbacks(tick)
            if (said is Said.Wrong && shown) { if (!gone) { host.say(said.words()); load() } } else answer(said, then)
        }
    }

    fun draw(build: Page.() -> Unit) {
        if (gone) return
        host.show(host.page(this).apply(build).view())
        drawn = true
    }
    fun word(id: Int, vararg more: Any): String = host.activity.getString(id, *more)
    fun many(id: Int, n: Int): String = host.activity.resources.getQuantityString(id, n, n)

    open fun answered(code: Int, ok: Boolean, data: Intent?) = Unit
    open fun permitted(permission: String, yes: Boolean) = Unit
    /** A hardware key; true if it was used. */
    open fun key(code: Int): Boolean = false
    open fun paused() = Unit
    open fun left() {
        gone = true
        if (working) host.core.cancel()
    }
}
