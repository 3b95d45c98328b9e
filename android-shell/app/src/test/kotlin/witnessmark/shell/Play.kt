package witnessmark.shell

import android.Manifest
import android.app.Activity
import android.content.Context
import android.graphics.Bitmap
import android.graphics.Canvas
import android.graphics.Color
import android.graphics.Paint
import android.location.Location
import android.os.Looper
import android.os.ParcelFileDescriptor
import android.view.View
import android.view.ViewGroup
import android.widget.EditText
import android.widget.TextView
import java.io.File
import org.junit.After
import org.junit.Assert.assertNotNull
import org.junit.Assert.assertTrue
import org.junit.Before
import org.junit.runner.RunWith
import org.robolectric.Robolectric
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.Shadows.shadowOf
import org.robolectric.android.controller.ActivityController
import org.robolectric.annotation.Config
import witnessmark.door.Author
import witnessmark.door.Notebook
import witnessmark.door.Trouble
import witnessmark.shell.hardware.Meeting
import witnessmark.shell.hardware.Ports
import witnessmark.shell.hardware.Position
import witnessmark.shell.hardware.Recogniser
import witnessmark.shell.hardware.Recorder
import witnessmark.shell.hardware.Speaker
import witnessmark.shell.hardware.Viewfinder
import witnessmark.shell.work.Books
import witnessmark.shell.work.Keys

/** The core with a given clock; every opening goes on with other randomness, the same in every run. */
class PlayedBooks : Books {
    var now = "2026-05-01T09:10:00+02:00"
    var opened = 0UL
    var book: Notebook? = null
    /** The trouble of opening is played; reading is real. */
    var damaged: Trouble? = null
    private fun test(folder: String, author: Author) = Notebook.forTests(folder, author, ByteArray(32) { 7 }, now, ++opened).also { book = it }
    override fun make(folder: String, author: Author, seed: ByteArray?) = test(folder, author)
    override fun open(folder: String, seed: ByteArray?): Notebook { damaged?.let { throw it }; return test(folder, Author("", "")) }
    override fun read(folder: String) = Notebook.read(folder).also { book = it }
}

/** A camera whose pictures are drawn: no two the same, so that no two digests are. */
class PlayedViewfinder(private val hand: Hand) : Viewfinder {
    override fun view(context: Context): View = View(context).apply { setBackgroundColor(Color.rgb(120, 128, 132)) }
    override fun start(where: () -> Location?, ready: (String?) -> Unit) { hand.where = where; ready(hand.cameraFails) }
    override fun take(into: File, done: (String?) -> Unit) { hand.picture(into); done(null) }
    override fun stop() { hand.cameraStops++ }
}

class PlayedRecorder(private val hand: Hand) : Recorder {
    override val ending = "aac"
    override fun feed(): ParcelFileDescriptor? = null
    override fun start(context: Context, into: File): Boolean { if (hand.microphone) into.writeBytes(hand.sound()); return hand.microphone }
    override fun stop() = Unit
}

class PlayedRecogniser(private val hand: Hand) : Recogniser {
    var phrases: List<String> = emptyList()
    override fun here(context: Context) = hand.hears != null
    override fun listen(context: Context, phrases: List<String>, sound: ParcelFileDescriptor?, heard: (List<String>) -> Unit) { this.phrases = phrases; hand.heard = heard }
    override fun stop() = Unit
}

class PlayedPosition(private val hand: Hand) : Position {
    init { hand.positions++ }
    override fun now() = Location("played").apply { latitude = 50.5; longitude = 7.25 }
    override fun stop() { hand.positions-- }
}

class FolderMeeting(private val folder: File) : Meeting {
    override fun list() = folder.walkTopDown().filter { it.isFile }.associate { it.relativeTo(folder).invariantSeparatorsPath to it.length() }
    override fun get(name: String, into: File) { File(folder, name).copyTo(into, true) }
    override fun put(name: String, from: File) { from.copyTo(File(folder, name)) }
}

/** What the test plays: camera, microphone, recogniser, and the count of actions. */
class Hand(val folder: File) {
    val books = PlayedBooks()
    var cameraFails: String? = null
    var cameraStops = 0
    var microphone = true
    var where: () -> Location? = { null }
    /** Positions asked for and given up again. */
    var positions = 0
    var hears: List<String>? = null
    var heard: (List<String>) -> Unit = {}
    var spoken = ArrayList<String>()
    var pictures = 0
    var actions = 0
    private var sounds = 0

    val recogniser = PlayedRecogniser(this)
    val ports = Ports(
        viewfinder = { PlayedViewfinder(this) }, recorder = { PlayedRecorder(this) }, position = { PlayedPosition(this) }, recogniser = recogniser,
        speaker = object : Speaker { override fun say(context: Context, text: String) { spoken.add(text) } },
        keys = { object : Keys { override fun seed(make: Boolean) = ByteArray(32) { 7 } } },
        books = books, meeting = { _, tree -> FolderMeeting(File(tree)) }, today = { "2026-05-01" },
    )

    /** A white card with a dark line beside it, on a grey skin. */
    fun picture(into: File) {
        pictures++
        val bitmap = Bitmap.createBitmap(800, 600, Bitmap.Config.ARGB_8888)
        val canvas = Canvas(bitmap)
        canvas.drawColor(Color.rgb(150, 152, 150 + pictures % 40))
        val paint = Paint(Paint.ANTI_ALIAS_FLAG)
        paint.color = Color.rgb(190, 188, 180)
        canvas.drawCircle(640f, 420f, 90f, paint)
        paint.color = Color.WHITE
        canvas.drawRect(100f, 100f, 528f, 370f, paint) // 85.60 : 53.98 within a pixel
        paint.color = Color.rgb(30, 30, 30); paint.strokeWidth = 4f
        canvas.drawLine(200f, 480f, 450f, 480f, paint)
        into.outputStream().use { bitmap.compress(Bitmap.CompressFormat.JPEG, 92, it) }
    }

    /** ADTS frames (ISO/IEC 13818-7, 6.2, from memory): sync, AAC LC, 16 kHz, mono, 16 bytes a frame. */
    fun sound(): ByteArray {
        val frame = byteArrayOf(0xFF.toByte(), 0xF1.toByte(), 0x60, 0x40, 0x02, 0x1F, 0xFC.toByte()) + ByteArray(9) { sounds.toByte() }
        sounds++
        return (0 until 20).flatMap { frame.toList() }.toByteArray()
    }
}

@RunWith(RobolectricTestRunner::class)
@Config(qualifiers = "w411dp-h914dp-420dpi")
abstract class ShellTest {
    lateinit var hand: Hand
    lateinit var shell: ActivityController<ShellActivity>
    val app get() = RuntimeEnvironment.getApplication() as ShellApp
    val activity get() = shell.get()

    @Before fun playPorts() {
        hand = Hand(app.filesDir)
        ShellApp.played = hand.ports
        shadowOf(app).grantPermissions(Manifest.permission.CAMERA, Manifest.permission.RECORD_AUDIO)
    }

    @After fun shutAll() {
        if (this::shell.isInitialized) { shell.destroy(); die() }
        ShellApp.played = null
    }

    fun launch() { shell = Robolectric.buildActivity(ShellActivity::class.java).setup(); settle() }

    /** Until the core has answered and the main thread has nothing to do. */
    fun settle() {
        val until = System.nanoTime() + 60_000_000_000
        while (true) {
            shadowOf(Looper.getMainLooper()).idle()
            if (app.core.waiting.get() == 0 && shadowOf(Looper.getMainLooper()).isIdle) return
            assertTrue("the core does not answer", System.nanoTime() < until)
            Thread.sleep(1)
        }
    }

    val root: ViewGroup get() = activity.window.decorView.findViewById(android.R.id.content)!!
    fun all(view: View = root): List<View> = listOf(view) + if (view is ViewGroup) (0 until view.childCount).flatMap { all(view.getChildAt(it)) } else emptyList()
    fun find(tag: String): View? = all().firstOrNull { it.tag == tag }
    fun tags(): List<String> = all().mapNotNull { it.tag as? String }
    fun texts(): List<String> = all().filterIsInstance<TextView>().filter { it.visibility == View.VISIBLE }.map { it.text.toString() }
    fun sees(text: String) = assertTrue("\"$text\" is not on: ${texts()}", texts().any { text in it })

    fun tap(tag: String) {
        val view = find(tag)
        assertNotNull("nothing to tap is called $tag among ${tags()}", view)
        assertTrue("$tag cannot be tapped", view!!.isClickable && view.isEnabled && view.isShown)
        hand.actions++
        view.performClick()
        settle()
    }
    fun first(prefix: String) = tags().first { it.startsWith(prefix) }
    fun type(tag: String, text: String) { (find(tag) as EditText).setText(text) }

    /** The three questions. */
    fun start() {
        launch()
        type("name", "A. Example"); tap("on")
        tap("choice:owner")
        type("registration", "N0123"); type("type", "Invented 2")
        tap("choice:low_wing_fixed")
    }

    /** As a kill: the activity is gone without being asked, the core's thread is let go; a new one opens the folder. */
    fun die() {
        app.core.shut { }
        settle()
    }
    fun coldStart() { shell.destroy(); die(); launch() }

    fun shot(): Bitmap {
        val view = activity.window.decorView
        val bitmap = Bitmap.createBitmap(view.width, view.height, Bitmap.Config.ARGB_8888)
        view.draw(Canvas(bitmap))
        return bitmap
    }
}
