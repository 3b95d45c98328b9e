package witnessmark.shell.kit

import android.app.Activity
import android.content.Intent
import android.view.View
import witnessmark.door.Notebook
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
    fun show(view: View)
    fun page(): Page
    /** Starts something of the system whose answer comes to [Screen.answered]. */
    fun start(intent: Intent, code: Int): Boolean
    fun may(permission: String): Boolean
    fun askFor(permission: String)
    fun takeIn()
}

/** A small presenter: asks the core, draws what it returns, carries taps back. */
abstract class Screen(val host: Host, val at: Where) {
    val aircraft: String get() = at["aircraft"].orEmpty()
    private var gone = false

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
        host.go(Where("trouble", mapOf("code" to said.code, "what" to said.what, "where" to said.where, "do" to said.whatToDo)))
    }

    /** Writes, says what was saved, and draws this screen anew. */
    fun <T> write(call: (Notebook) -> T, says: (T) -> String) = ask(call) { host.say(says(it)); load() }

    fun draw(build: Page.() -> Unit) { if (!gone) host.show(host.page().apply(build).view()) }
    fun word(id: Int, vararg more: Any): String = host.activity.getString(id, *more)
    fun many(id: Int, n: Int): String = host.activity.resources.getQuantityString(id, n, n)

    open fun answered(code: Int, ok: Boolean, data: Intent?) = Unit
    open fun permitted(permission: String, yes: Boolean) = Unit
    /** A hardware key; true if it was used. */
    open fun key(code: Int): Boolean = false
    open fun paused() = Unit
    open fun left() { gone = true }
}
