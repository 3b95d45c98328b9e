package witnessmark.shell.work

import android.os.Handler
import android.os.Looper
import java.util.concurrent.Executors
import java.util.concurrent.atomic.AtomicInteger
import witnessmark.door.Author
import witnessmark.door.Notebook
import witnessmark.door.Trouble
import witnessmark.door.WorkView
import witnessmark.door.notebookIsIn

/** What a call of the core came to. */
sealed class Said<out T> {
    data class Fine<T>(val value: T) : Said<T>()
    data class Wrong(val code: String, val what: String, val where: String, val whatToDo: String) : Said<Nothing>() {
        /** One text, for a page that stays. */
        fun words(): String = listOf(if (where.isEmpty()) what else "$what ($where)", whatToDo).filter { it.isNotEmpty() }.joinToString(". ")
    }
}

/** How the notebook stands. */
sealed class Standing {
    object Fresh : Standing()
    object Open : Standing()
    /** Damaged: open for reading only. */
    data class ReadOnly(val wrong: Said.Wrong) : Standing()
    data class Shut(val wrong: Said.Wrong) : Standing()
}

/** Ways to the core; tests hand in one with a given clock. */
interface Books {
    fun make(folder: String, author: Author, seed: ByteArray?): Notebook
    fun open(folder: String, seed: ByteArray?): Notebook
    fun read(folder: String): Notebook
}

object RealBooks : Books {
    override fun make(folder: String, author: Author, seed: ByteArray?) = Notebook.make(folder, author, seed)
    override fun open(folder: String, seed: ByteArray?) = Notebook.open(folder, seed)
    override fun read(folder: String) = Notebook.read(folder)
}

/** Keeps the author's seed; see hardware/StoreKeys.kt. */
interface Keys {
    /** The seed, made if `make`; none where there is none. */
    fun seed(make: Boolean): ByteArray?
}

/**
 * The one thread that owns the core. Nothing else holds the notebook; answers come back on the main
 * thread. Refuses to run a call on the main thread, so that no screen can.
 */
class CoreThread(private val folder: String, private val books: Books, private val keys: Keys) {
    private val thread = Executors.newSingleThreadExecutor { Thread(it, "core") }
    private val main = Handler(Looper.getMainLooper())
    @Volatile private var book: Notebook? = null

    /** Calls whose answer has not reached the main thread. */
    val waiting = AtomicInteger()

    private fun <T> run(call: () -> T, then: (Said<T>) -> Unit) {
        waiting.incrementAndGet()
        thread.execute {
            check(Looper.myLooper() != Looper.getMainLooper())
            val said: Said<T> = try {
                Said.Fine(call())
            } catch (trouble: Trouble) {
                wrong(trouble)
            } catch (other: Exception) {
                Said.Wrong("internal", other.message.orEmpty(), "", "")
            }
            main.post { try { then(said) } finally { waiting.decrementAndGet() } }
        }
    }

    /** Opens the notebook if it is not open. */
    fun begin(then: (Standing) -> Unit) {
        var standing: Standing = Standing.Open
        run({
            if (book == null) {
                if (!notebookIsIn(folder)) standing = Standing.Fresh
                else try {
                    book = withSeed(false) { books.open(folder, it) }
                } catch (damaged: Trouble.Damaged) {
                    book = books.read(folder)
                    standing = Standing.ReadOnly(wrong(damaged))
                }
            }
        }) { said -> then(if (said is Said.Wrong) Standing.Shut(said) else standing) }
    }

    /** First start. */
    fun make(author: Author, then: (Said<Unit>) -> Unit) = run({
        if (book == null) book = withSeed(true) { books.make(folder, author, it) }
    }, then)

    /** One call of the core. */
    fun <T> ask(call: (Notebook) -> T, then: (Said<T>) -> Unit) = run({
        val open = book ?: throw Trouble.Closed("closed", "", "", "")
        call(open)
    }, then)

    /** Work that needs no notebook: a photo at work, files. */
    fun <T> apart(call: () -> T, then: (Said<T>) -> Unit) = run(call, then)

    /** How far the long work has come, and the wish to end it: neither ever waits, so both may come from the main thread. */
    fun come(): WorkView? = try { book?.work() } catch (_: IllegalStateException) { null }
    fun cancel() { try { book?.cancel() } catch (_: IllegalStateException) { /* shut meanwhile */ } }

    /** Shuts the notebook explicitly; the next [begin] opens it again. */
    fun shut(then: () -> Unit) = run({
        book?.let { it.shut(); it.close() }
        book = null
    }) { then() }

    /** The seed is overwritten as soon as the core has it. */
    private fun <T> withSeed(make: Boolean, use: (ByteArray?) -> T): T {
        val seed = keys.seed(make)
        try { return use(seed) } finally { seed?.fill(0) }
    }

    companion object {
        fun wrong(trouble: Trouble): Said.Wrong = when (trouble) {
            is Trouble.Input -> Said.Wrong("Input", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Closed -> Said.Wrong("Closed", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Cancelled -> Said.Wrong("Cancelled", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.NoNotebook -> Said.Wrong("NoNotebook", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Busy -> Said.Wrong("Busy", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.NoSpace -> Said.Wrong("NoSpace", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.NoPermission -> Said.Wrong("NoPermission", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Damaged -> Said.Wrong("Damaged", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Newer -> Said.Wrong("Newer", trouble.what, trouble.where, trouble.whatToDo)
            is Trouble.Machine -> Said.Wrong("Machine", trouble.what, trouble.where, trouble.whatToDo)
        }
    }
}
