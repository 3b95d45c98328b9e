package witnessmark.shell.hardware

import android.annotation.SuppressLint
import android.content.Context
import android.graphics.ImageFormat
import android.graphics.Matrix
import android.graphics.RectF
import android.graphics.SurfaceTexture
import android.hardware.camera2.CameraAccessException
import android.hardware.camera2.CameraCaptureSession
import android.hardware.camera2.CameraCharacteristics
import android.hardware.camera2.CameraDevice
import android.hardware.camera2.CameraManager
import android.hardware.camera2.CaptureRequest
import android.location.Location
import android.media.ImageReader
import android.os.Handler
import android.os.HandlerThread
import android.os.Looper
import android.view.Surface
import android.view.TextureView
import android.view.View
import android.view.WindowManager
import java.io.File
import java.io.FileOutputStream
import java.io.IOException

/**
 * `camera2`, the back camera, JPEG as the camera made it: not decoded, not written again. Nothing here
 * has run on a phone yet (android-shell/README.md).
 */
class CameraViewfinder : Viewfinder {
    private val main = Handler(Looper.getMainLooper())
    private val thread = HandlerThread("camera").apply { start() }
    private val behind = Handler(thread.looper)
    private lateinit var texture: TextureView
    private var where: () -> Location? = { null }
    private var device: CameraDevice? = null
    private var session: CameraCaptureSession? = null
    private var reader: ImageReader? = null
    private var turn = 0
    private var stopped = false

    override fun view(context: Context): View = TextureView(context).also { texture = it }

    override fun start(where: () -> Location?, ready: (String?) -> Unit) {
        if (texture.isAvailable) open(ready) else texture.surfaceTextureListener = object : TextureView.SurfaceTextureListener {
            override fun onSurfaceTextureAvailable(s: SurfaceTexture, w: Int, h: Int) = open(ready)
            override fun onSurfaceTextureSizeChanged(s: SurfaceTexture, w: Int, h: Int) = Unit
            override fun onSurfaceTextureDestroyed(s: SurfaceTexture) = true
            override fun onSurfaceTextureUpdated(s: SurfaceTexture) = Unit
        }
    }

    @SuppressLint("MissingPermission") // asked for by the screen; a refusal arrives as SecurityException
    private fun open(ready: (String?) -> Unit) {
        val context = texture.context
        val manager = context.getSystemService(Context.CAMERA_SERVICE) as CameraManager
        fun fail(why: String?) = main.post { ready(why ?: "") }
        try {
            val id = manager.cameraIdList.firstOrNull {
                manager.getCameraCharacteristics(it).get(CameraCharacteristics.LENS_FACING) == CameraCharacteristics.LENS_FACING_BACK
            } ?: manager.cameraIdList.firstOrNull()
            if (id == null) { fail("no camera"); return }
            val facts = manager.getCameraCharacteristics(id)
            val sizes = facts.get(CameraCharacteristics.SCALER_STREAM_CONFIGURATION_MAP)
            val size = sizes?.getOutputSizes(ImageFormat.JPEG)?.maxByOrNull { it.width.toLong() * it.height }
            val shown = sizes?.getOutputSizes(SurfaceTexture::class.java)?.filter { it.width <= 1920 }?.maxByOrNull { it.width.toLong() * it.height }
            if (size == null || shown == null) { fail("no picture size"); return }
            turn = facts.get(CameraCharacteristics.SENSOR_ORIENTATION) ?: 0
            reader = ImageReader.newInstance(size.width, size.height, ImageFormat.JPEG, 2)
            main.post { fit(shown.width, shown.height) }
            manager.openCamera(id, object : CameraDevice.StateCallback() {
                override fun onOpened(camera: CameraDevice) {
                    if (stopped) { camera.close(); return }
                    device = camera
                    preview(camera, shown.width, shown.height, ready)
                }
                override fun onDisconnected(camera: CameraDevice) { camera.close(); device = null; fail("camera taken away") }
                override fun onError(camera: CameraDevice, error: Int) { camera.close(); device = null; fail("camera error $error") }
            }, behind)
        } catch (error: CameraAccessException) { fail(error.message) } catch (error: SecurityException) { fail(error.message) }
    }

    /** Fills the view without stretching, and turns with the display. */
    private fun fit(w: Int, h: Int) {
        @Suppress("DEPRECATION")
        val rotation = (texture.context.getSystemService(Context.WINDOW_SERVICE) as WindowManager).defaultDisplay.rotation
        val view = RectF(0f, 0f, texture.width.toFloat(), texture.height.toFloat())
        val sideways = rotation == Surface.ROTATION_90 || rotation == Surface.ROTATION_270
        val buffer = RectF(0f, 0f, (if (sideways) w else h).toFloat(), (if (sideways) h else w).toFloat())
        val matrix = Matrix()
        val scale = maxOf(view.width() / buffer.width(), view.height() / buffer.height())
        matrix.setScale(buffer.width() * scale / view.width(), buffer.height() * scale / view.height(), view.centerX(), view.centerY())
        if (sideways) matrix.postRotate(if (rotation == Surface.ROTATION_90) -90f else 90f, view.centerX(), view.centerY())
        texture.setTransform(matrix)
    }

    private fun preview(camera: CameraDevice, w: Int, h: Int, ready: (String?) -> Unit) {
        val surface = Surface(texture.surfaceTexture?.apply { setDefaultBufferSize(w, h) } ?: return)
        val jpeg = reader?.surface ?: return
        try {
            @Suppress("DEPRECATION") // the replacement is API 28
            camera.createCaptureSession(listOf(surface, jpeg), object : CameraCaptureSession.StateCallback() {
                override fun onConfigured(made: CameraCaptureSession) {
                    session = made
                    val ask = camera.createCaptureRequest(CameraDevice.TEMPLATE_PREVIEW).apply {
                        addTarget(surface)
                        set(CaptureRequest.CONTROL_AF_MODE, CaptureRequest.CONTROL_AF_MODE_CONTINUOUS_PICTURE)
                    }
                    made.setRepeatingRequest(ask.build(), null, behind)
                    main.post { ready(null) }
                }
                override fun onConfigureFailed(failed: CameraCaptureSession) { main.post { ready("camera not configured") } }
            }, behind)
        } catch (error: CameraAccessException) { main.post { ready(error.message ?: "") } }
    }

    override fun take(into: File, done: (String?) -> Unit) {
        val camera = device; val made = session; val images = reader
        if (camera == null || made == null || images == null) { done("camera not ready"); return }
        images.setOnImageAvailableListener({ from ->
            val image = from.acquireNextImage() ?: return@setOnImageAvailableListener
            val why = try {
                val bytes = image.planes[0].buffer
                FileOutputStream(into).use { it.channel.write(bytes); it.fd.sync() }
                null
            } catch (error: IOException) { error.message ?: "" } finally { image.close() }
            main.post { done(why) }
        }, behind)
        try {
            val ask = camera.createCaptureRequest(CameraDevice.TEMPLATE_STILL_CAPTURE).apply {
                addTarget(images.surface)
                set(CaptureRequest.CONTROL_AF_MODE, CaptureRequest.CONTROL_AF_MODE_CONTINUOUS_PICTURE)
                set(CaptureRequest.JPEG_ORIENTATION, turn)
                set(CaptureRequest.JPEG_QUALITY, 95)
                where()?.let { set(CaptureRequest.JPEG_GPS_LOCATION, it) }
            }
            made.capture(ask.build(), null, behind)
        } catch (error: CameraAccessException) { done(error.message ?: "") }
    }

    override fun stop() {
        stopped = true
        session?.close(); device?.close(); reader?.close()
        session = null; device = null; reader = null
        thread.quitSafely()
    }
}
