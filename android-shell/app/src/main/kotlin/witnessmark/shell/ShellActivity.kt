package witnessmark.shell

import android.app.Activity
import android.content.Intent
import android.content.pm.PackageManager
import android.graphics.Color
import android.net.Uri
import android.os.Build
import android.os.Bundle
import android.view.KeyEvent
import android.view.View
import android.view.WindowInsets
import android.widget.FrameLayout
import java.io.File
import witnessmark.door.Source
import witnessmark.shell.files.OwnFiles
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Ink
import witnessmark.shell.kit.Page
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Said
import witnessmark.shell.work.Standing
import witnessmark.shell.work.Where

/** The one activity: shows the top of a stack of places, and remembers the stack. */
class ShellActivity : Activity(), Host {
    private val app get() = application as ShellApp
    private lateinit var root: FrameLayout
    private val stack = ArrayList<Where>()
    private var screen: Screen? = null
    private var said = ""
    private var begun = false
    private var waitingIntent: Intent? = null

    override val activity get() = this
    override val core get() = app.core
    override val keep get() = app.keep
    override val ports get() = app.ports
    override val taking get() = app.taking
    override lateinit var ink: Ink

    override fun onCreate(state: Bundle?) {
        super.onCreate(state)
        ink = Ink.of(this, keep.theme)
        root = FrameLayout(this).apply { setBackgroundColor(ink.paper) }
        root.setOnApplyWindowInsetsListener { view, insets ->
            if (Build.VERSION.SDK_INT >= 30) {
                val edge = insets.getInsets(WindowInsets.Type.systemBars() or WindowInsets.Type.displayCutout() or WindowInsets.Type.ime())
                view.setPadding(edge.left, edge.top, edge.right, edge.bottom)
            } else {
                @Suppress("DEPRECATION")
                view.setPadding(insets.systemWindowInsetLeft, insets.systemWindowInsetTop, insets.systemWindowInsetRight, insets.systemWindowInsetBottom)
            }
            insets
        }
        setContentView(root)
        barIcons()
        if (state == null) waitingIntent = intent
        stack.addAll(keep.stack())
        begin()
    }

    /** Dark signs on light bars, and the other way round. */
    private fun barIcons() {
        window.decorView.setBackgroundColor(ink.paper)
        if (Build.VERSION.SDK_INT < 35) {
            @Suppress("DEPRECATION")
            window.statusBarColor = if (ink.night) ink.paper else Color.BLACK
        }
        if (Build.VERSION.SDK_INT >= 30) {
            val light = android.view.WindowInsetsController.APPEARANCE_LIGHT_STATUS_BARS or
                android.view.WindowInsetsController.APPEARANCE_LIGHT_NAVIGATION_BARS
            window.insetsController?.setSystemBarsAppearance(if (ink.night) 0 else light, light)
        }
    }

    private fun begin() = core.begin { standing ->
        begun = true
        when (standing) {
            is Standing.Fresh -> { if (stack.lastOrNull()?.screen == "first") again() else home(Where("first")); keepShared() }
            is Standing.Open -> {
                stack.removeAll { it.screen == "first" }
                settle { if (stack.isEmpty()) home(Where("aircraft")) else again() }
            }
            is Standing.ReadOnly -> trouble("ReadOnly", standing.wrong)
            is Standing.Shut -> trouble("", standing.wrong)
        }
    }

    private fun trouble(code: String, wrong: Said.Wrong) = home(
        Where("trouble", mapOf("code" to code.ifEmpty { wrong.code }, "what" to wrong.what, "where" to wrong.where, "do" to wrong.whatToDo)),
    )

    /** Hands in what an earlier process, or the system's camera, left behind; then what was shared to us. */
    private fun settle(then: () -> Unit) = core.ask({ taking.settle(it) }) { kept ->
        when (kept) {
            is Said.Fine -> {
                if (kept.value.says().isNotEmpty()) say(kept.value.says())
                val shared = waitingIntent
                waitingIntent = null
                if (shared != null && shared.action != Intent.ACTION_MAIN) received(shared, then) else then()
            }
            is Said.Wrong -> { then(); go(Where("trouble", mapOf("code" to kept.code, "what" to kept.what, "where" to kept.where, "do" to kept.whatToDo))) }
        }
    }
    override fun takeIn() = settle { again() }

    override fun onNewIntent(intent: Intent) {
        super.onNewIntent(intent)
        if (begun) received(intent) { again() } else waitingIntent = intent
    }

    /** A pack by *open with*, photos by *share to*. Bytes as they come; what the system took out of them the core says. */
    private fun received(intent: Intent, then: () -> Unit) {
        if (intent.action == Intent.ACTION_VIEW && intent.data != null) {
            then()
            go(Where("receive", mapOf("uri" to intent.data.toString())))
            return
        }
        take(shared(intent), then)
    }
    @Suppress("DEPRECATION")
    private fun shared(intent: Intent): List<Uri> = when (intent.action) {
        Intent.ACTION_SEND -> listOfNotNull(intent.getParcelableExtra<Uri>(Intent.EXTRA_STREAM))
        Intent.ACTION_SEND_MULTIPLE -> intent.getParcelableArrayListExtra<Uri>(Intent.EXTRA_STREAM).orEmpty()
        else -> emptyList()
    }

    /** What was shared before the first start is copied at once: the grant ends with this process. The core gets it when there is one. */
    private fun keepShared() {
        val uris = waitingIntent?.let { shared(it) }.orEmpty()
        if (uris.isEmpty()) return
        waitingIntent = null
        core.apart({ copyIn(uris, null) }) { if (it is Said.Wrong) tell(it.words()) else tell(resources.getQuantityString(R.plurals.shared_waits, uris.size, uris.size)) }
    }

    /** On the core's thread. */
    private fun copyIn(uris: List<Uri>, aircraft: String?) {
        for (uri in uris) {
            val job = taking.begin("photo", aircraft, null, taken = false, name = OwnFiles.nameOf(contentResolver, uri))
            contentResolver.openInputStream(uri)?.use { from -> job.file.outputStream().use { from.copyTo(it); it.fd.sync() } }
        }
    }

    fun take(uris: List<Uri>, then: () -> Unit) {
        val top = stack.lastOrNull()?.get("aircraft")
        core.ask({ book -> copyIn(uris, top); taking.settle(book) }) { kept ->
            if (kept is Said.Fine) {
                val views = kept.value.kept.map { it.second }
                val head = if (views.isEmpty()) "" else resources.getQuantityString(R.plurals.imported, views.size, views.size)
                say((listOf(head) + views.flatMap { it.notices }.distinct() + kept.value.refused).filter { it.isNotEmpty() }.joinToString(" "))
            }
            then()
            if (kept is Said.Wrong && !tell(kept.words())) go(Where("trouble", mapOf("code" to kept.code, "what" to kept.what, "where" to kept.where, "do" to kept.whatToDo)))
        }
    }

    override fun go(where: Where) { stack.add(where.fresh()); open() }
    override fun turn(where: Where) { if (stack.isNotEmpty()) stack.removeAt(stack.size - 1); stack.add(where.fresh()); open() }
    override fun home(where: Where) { stack.clear(); stack.add(where.fresh()); open() }
    override fun back() {
        if (stack.size <= 1) { if (stack.lastOrNull()?.screen in ROOTS) finish() else home(Where("aircraft")); return }
        stack.removeAt(stack.size - 1)
        open()
    }
    override fun again() = open()

    private fun open() {
        screen?.left()
        remember()
        val top = stack.lastOrNull() ?: Where("aircraft").also { stack.add(it) }
        val made = screens[top.screen]?.invoke(this, top) ?: screens.getValue("aircraft")(this, top)
        screen = made
        made.load()
    }

    /** Troubles are found again by opening; a camera or microphone is never opened unasked. */
    private fun remember() = keep.remember(stack.filter { it.screen !in listOf("trouble", "viewfinder", "voice") })

    override fun say(text: String) { said = text }
    override fun page(screen: Screen): Page = Page(this, ink, keep.leftHanded, said, screen).also { said = "" }
    override fun tell(text: String): Boolean {
        val line = root.findViewWithTag<android.widget.TextView>("said") ?: return false
        line.text = text
        line.visibility = View.VISIBLE
        return true
    }
    override fun note(key: String, value: String) {
        if (stack.isNotEmpty()) stack[stack.size - 1] = stack.last().with(Where.NOTED + key to value)
    }
    override fun show(view: View) {
        root.removeAllViews()
        root.addView(view)
        if (Build.VERSION.SDK_INT >= 28) view.accessibilityPaneTitle = title
    }

    override fun start(intent: Intent, code: Int): Boolean = try {
        @Suppress("DEPRECATION") startActivityForResult(intent, code)
        true
    } catch (_: android.content.ActivityNotFoundException) { false }

    override fun may(permission: String) = checkSelfPermission(permission) == PackageManager.PERMISSION_GRANTED
    override fun askFor(vararg permissions: String) = requestPermissions(permissions, 90)
    override fun onRequestPermissionsResult(code: Int, names: Array<out String>, results: IntArray) {
        if (names.isNotEmpty()) screen?.permitted(names[0], results.firstOrNull() == PackageManager.PERMISSION_GRANTED)
    }

    @Deprecated("Deprecated in Java")
    override fun onActivityResult(code: Int, result: Int, data: Intent?) {
        if (begun) screen?.answered(code, result == RESULT_OK, data)
    }
    @Deprecated("Deprecated in Java")
    override fun onBackPressed() = back()
    override fun onKeyDown(code: Int, event: KeyEvent): Boolean = screen?.key(code) == true || super.onKeyDown(code, event)
    override fun onKeyUp(code: Int, event: KeyEvent): Boolean = code in TAKE_KEYS && screen is witnessmark.shell.viewfinder.ViewfinderScreen || super.onKeyUp(code, event)
    override fun onPause() { super.onPause(); remember(); screen?.paused() }
    override fun onDestroy() {
        screen?.left()
        if (isFinishing) core.shut { }
        super.onDestroy()
    }

    fun path(uri: Uri): Pair<Source, AutoCloseable> {
        val file = contentResolver.openFileDescriptor(uri, "r") ?: throw java.io.FileNotFoundException(uri.toString())
        return Source.Descriptor(file.fd, uri.lastPathSegment.orEmpty().substringAfterLast('/').let { if (it.endsWith(".zip")) it else "$it.zip" }) to file
    }
    fun out(name: String): File = File(OwnFiles.folder(this, OwnFiles.OUT), name).also { it.deleteRecursively() }

    companion object {
        val ROOTS = listOf("aircraft", "first", "trouble")
        val TAKE_KEYS = listOf(KeyEvent.KEYCODE_VOLUME_UP, KeyEvent.KEYCODE_VOLUME_DOWN, KeyEvent.KEYCODE_HEADSETHOOK, KeyEvent.KEYCODE_MEDIA_PLAY_PAUSE, KeyEvent.KEYCODE_CAMERA)
    }
}
