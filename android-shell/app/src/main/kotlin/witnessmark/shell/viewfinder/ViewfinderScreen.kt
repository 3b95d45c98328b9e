package witnessmark.shell.viewfinder

import android.Manifest
import android.content.Intent
import android.provider.MediaStore
import android.view.KeyEvent
import android.view.View
import android.widget.FrameLayout
import android.widget.ImageView
import witnessmark.shell.R
import witnessmark.shell.files.OwnFiles
import witnessmark.shell.hardware.Position
import witnessmark.shell.hardware.Viewfinder
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Photos
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Job
import witnessmark.shell.work.Settled
import witnessmark.shell.work.Where

/**
 * Our own viewfinder, the earlier view of this place ghosted on it; or the system's camera, where the
 * person chose it or ours is refused. The job is written down before either opens.
 */
class ViewfinderScreen(host: Host, at: Where) : Screen(host, at) {
    private var finder: Viewfinder? = null
    private var job: Job? = null
    private var position: Position? = null
    private var ready = false
    private var then: String? = null
    /** The camera stays open: one tap a page. */
    private val burst get() = at["burst"] != null

    override fun load() {
        if (host.keep.systemCamera) { system(); return }
        if (!host.may(Manifest.permission.CAMERA)) { host.askFor(Manifest.permission.CAMERA); waiting(R.string.camera_asked); return }
        ask({ book ->
            val zone = at["zone"] ?: at["stop"]?.let { book.stop(aircraft, it, host.keep.route(aircraft)).zones.firstOrNull()?.code }
            val photos = at["finding"]?.let { book.finding(aircraft, it).photos.map { p -> p.path to p.orientation } }
                ?: zone?.let { book.zone(aircraft, it).captures.filter { c -> c.kind == "photo" }.mapNotNull { c -> c.path?.let { p -> p to c.orientation } } }
            photos?.lastOrNull()?.let { (path, turned) -> Photos.small(path, turned.toInt(), 720) }
        }) { ghost -> open(ghost) }
    }

    private fun waiting(text: Int): Unit = draw {
        title(word(R.string.photo))
        line(word(text))
        action(word(R.string.system_camera), "main", "system") { system() }
        action(word(R.string.without_photo), "usual", "back") { host.back() }
    }

    private fun begin(): Job = host.taking.begin(at["kind"] ?: "photo", aircraft.ifEmpty { null }, at["stop"], at["zone"], at["finding"], at["view"], paper = at["paper"])

    private fun open(ghost: android.graphics.Bitmap?) {
        val made = host.ports.viewfinder()
        finder = made
        job = begin()
        val scene = FrameLayout(host.activity)
        scene.addView(made.view(host.activity).apply { contentDescription = word(R.string.viewfinder) })
        val over = ghost?.let { bitmap ->
            ImageView(host.activity).apply {
                setImageBitmap(bitmap); alpha = 0.35f; scaleType = ImageView.ScaleType.CENTER_CROP
                contentDescription = word(R.string.earlier_view)
            }.also { scene.addView(it) }
        }
        draw {
            if (at["says"] != null) quiet(at["says"]!!)
            picture(scene, 420)
            action(word(R.string.take), "main", "take") { take("stay") }
            if (at["stop"] != null && !burst) action(word(R.string.take_next), "usual", "take_next") { take("next") }
            if (over != null) action(word(R.string.ghost), "usual", "ghost") { over.visibility = if (over.visibility == View.VISIBLE) View.GONE else View.VISIBLE }
            action(word(R.string.system_camera), "small", "system") { finder?.stop(); finder = null; system() }
            action(word(if (burst) R.string.done else R.string.back), if (burst) "usual" else "small", "back") { host.back() }
        }
        val place = if (host.keep.position && host.may(Manifest.permission.ACCESS_FINE_LOCATION)) host.ports.position(host.activity) else null
        position = place
        made.start({ place?.now() }) { why -> if (why == null) ready = true else { finder?.stop(); finder = null; waiting(R.string.camera_fails) } }
    }

    private fun take(after: String) {
        val now = job ?: return
        val camera = finder ?: return
        if (!ready) return
        ready = false
        then = after
        camera.take(now.file) { why -> if (why != null) waiting(R.string.camera_fails) else settle() }
    }

    private fun settle(): Unit = ask({ book -> host.taking.settle(book) }) { kept -> kept(kept) }

    private fun kept(settled: Settled) {
        job = null
        val last = settled.last
        val says = settled.says().ifEmpty { word(R.string.camera_cancelled) }
        if (burst && finder != null) {
            job = begin()
            ready = true
            host.tell(says)
            return
        }
        host.say(says)
        if (last != null && at["then"] == "measure") {
            host.turn(Where("measure", mapOf("aircraft" to aircraft, "photo" to last.entry)))
            return
        }
        val stop = at["stop"]
        if (then == "next" && stop != null) {
            ask({ it.stop(aircraft, stop, host.keep.route(aircraft)).nextStop }) { next ->
                host.back()
                if (next != null) host.turn(Where("stop", mapOf("aircraft" to aircraft, "stop" to next)))
            }
        } else host.back()
    }

    private fun system() {
        val now = job ?: begin().also { job = it }
        now.file.createNewFile()
        val uri = OwnFiles.uri(OwnFiles.TAKING, now.file.name)
        val intent = Intent(MediaStore.ACTION_IMAGE_CAPTURE).putExtra(MediaStore.EXTRA_OUTPUT, uri)
            .addFlags(Intent.FLAG_GRANT_WRITE_URI_PERMISSION or Intent.FLAG_GRANT_READ_URI_PERMISSION)
        intent.clipData = android.content.ClipData.newRawUri("", uri)
        if (host.start(intent, CAMERA)) draw {
            title(word(R.string.photo))
            line(word(R.string.camera_open))
            action(word(R.string.back), "usual", "back") { settle() }
        } else draw {
            title(word(R.string.photo))
            line(word(R.string.no_camera))
            action(word(R.string.write_instead), "main", "write") { host.turn(at.copy(screen = "write")) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }

    override fun answered(code: Int, ok: Boolean, data: Intent?) { if (code == CAMERA) settle() }
    override fun permitted(permission: String, yes: Boolean) { if (yes) load() else waiting(R.string.camera_refused) }
    override fun key(code: Int): Boolean = when (code) {
        KeyEvent.KEYCODE_VOLUME_UP, KeyEvent.KEYCODE_CAMERA -> { take("stay"); true }
        KeyEvent.KEYCODE_VOLUME_DOWN, KeyEvent.KEYCODE_HEADSETHOOK, KeyEvent.KEYCODE_MEDIA_PLAY_PAUSE -> { take("next"); true }
        else -> false
    }
    override fun left() { super.left(); finder?.stop(); finder = null; position?.stop(); position = null }

    companion object { const val CAMERA = 11 }
}
