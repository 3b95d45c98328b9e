package witnessmark.shell.measure

import android.content.Context
import android.graphics.Bitmap
import android.graphics.Canvas
import android.graphics.Paint
import android.graphics.Path
import android.graphics.Rect
import android.graphics.RectF
import android.view.MotionEvent
import android.view.View
import witnessmark.door.Dot
import witnessmark.shell.kit.Ink

/** The photo with marks on it. A finger puts or drags one; a loupe, opposite the finger, shows what is under it. */
class MarksView(context: Context, private val ink: Ink, private val bitmap: Bitmap, private val w: Int, private val h: Int) : View(context) {
    var dots: List<Dot> = emptyList(); set(value) { field = value; invalidate() }
    var fixed: List<Dot> = emptyList(); set(value) { field = value; invalidate() }
    var line: List<Dot> = emptyList(); set(value) { field = value; invalidate() }
    var closed = false
    var changed: () -> Unit = {}
    private var held = -1
    private var heldCorner = -1
    private var finger: Dot? = null
    private val px = resources.displayMetrics.density
    private val paint = Paint(Paint.ANTI_ALIAS_FLAG)

    private fun k() = minOf(width.toDouble() / w, height.toDouble() / h)
    private fun x0() = (width - w * k()) / 2
    private fun y0() = (height - h * k()) / 2
    fun toView(dot: Dot) = floatArrayOf((x0() + dot.x * k()).toFloat(), (y0() + dot.y * k()).toFloat())
    private fun toPhoto(x: Float, y: Float) = Dot(((x - x0()) / k()).coerceIn(0.0, w - 1.0), ((y - y0()) / k()).coerceIn(0.0, h - 1.0))

    override fun onTouchEvent(event: MotionEvent): Boolean {
        val at = toPhoto(event.x, event.y)
        when (event.actionMasked) {
            MotionEvent.ACTION_DOWN -> {
                parent?.requestDisallowInterceptTouchEvent(true)
                fun near(dot: Dot) = toView(dot).let { p -> Math.hypot((p[0] - event.x).toDouble(), (p[1] - event.y).toDouble()) < 32 * px }
                held = dots.indexOfFirst { near(it) }
                heldCorner = if (held < 0) fixed.indexOfFirst { near(it) } else -1
                if (held < 0 && heldCorner < 0) { dots = dots + at; held = dots.size - 1 }
                finger = at
            }
            MotionEvent.ACTION_MOVE -> {
                if (held in dots.indices) dots = dots.toMutableList().also { it[held] = at }
                if (heldCorner in fixed.indices) fixed = fixed.toMutableList().also { it[heldCorner] = at }
                finger = at
            }
            MotionEvent.ACTION_UP -> { held = -1; heldCorner = -1; finger = null; performClick(); changed() }
            MotionEvent.ACTION_CANCEL -> { held = -1; heldCorner = -1; finger = null }
        }
        invalidate()
        return true
    }
    override fun performClick(): Boolean { super.performClick(); return true }

    override fun onDraw(canvas: Canvas) {
        val into = RectF(x0().toFloat(), y0().toFloat(), (x0() + w * k()).toFloat(), (y0() + h * k()).toFloat())
        canvas.drawBitmap(bitmap, null, into, null)
        fun path(points: List<Dot>, close: Boolean) = Path().apply {
            points.forEachIndexed { i, dot -> val p = toView(dot); if (i == 0) moveTo(p[0], p[1]) else lineTo(p[0], p[1]) }
            if (close) close()
        }
        fun stroke(path: Path) {
            paint.style = Paint.Style.STROKE
            paint.color = ink.paper; paint.strokeWidth = 5 * px; canvas.drawPath(path, paint)
            paint.color = ink.mark; paint.strokeWidth = 2 * px; canvas.drawPath(path, paint)
        }
        if (fixed.isNotEmpty()) stroke(path(fixed, true))
        if (line.isNotEmpty()) stroke(path(line, closed))
        // Corners stay where they can be taken and dragged.
        for (dot in fixed) { val p = toView(dot); stroke(Path().apply { addCircle(p[0], p[1], 9 * px, Path.Direction.CW) }) }
        for (dot in dots) { val p = toView(dot); stroke(Path().apply { addCircle(p[0], p[1], 12 * px, Path.Direction.CW); moveTo(p[0] - 18 * px, p[1]); lineTo(p[0] + 18 * px, p[1]); moveTo(p[0], p[1] - 18 * px); lineTo(p[0], p[1] + 18 * px) }) }
        finger?.let { loupe(canvas, it) }
    }

    private fun loupe(canvas: Canvas, at: Dot) {
        val side = 120 * px
        val left = if (toView(at)[0] > width / 2) 8 * px else width - side - 8 * px
        val into = RectF(left, 8 * px, left + side, 8 * px + side)
        val s = bitmap.width.toDouble() / w; val r = side / k() * s / 6
        val cx = at.x * s; val cy = at.y * s
        paint.style = Paint.Style.FILL; paint.color = ink.paper
        canvas.drawRect(into, paint)
        canvas.drawBitmap(bitmap, Rect((cx - r).toInt(), (cy - r).toInt(), (cx + r).toInt(), (cy + r).toInt()), into, null)
        paint.style = Paint.Style.STROKE; paint.color = ink.ink; paint.strokeWidth = 2 * px
        canvas.drawRect(into, paint)
        canvas.drawLine(into.centerX(), into.top, into.centerX(), into.bottom, paint)
        canvas.drawLine(into.left, into.centerY(), into.right, into.centerY(), paint)
    }
}
