package witnessmark.shell.lay

import android.content.Context
import android.graphics.Bitmap
import android.graphics.Canvas
import android.graphics.DashPathEffect
import android.graphics.Matrix
import android.graphics.Paint
import android.graphics.Path
import android.view.MotionEvent
import android.view.View
import witnessmark.door.Dot
import witnessmark.door.LayView
import witnessmark.door.PhotoAtWork
import witnessmark.door.Source
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Ink
import witnessmark.shell.kit.Photos
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** The older photo laid on the newer: press shows the older, letting go the newer. */
class LayScreen(host: Host, at: Where) : Screen(host, at) {
    private class Both(
        val older: Bitmap, val newer: Bitmap, val laid: LayView, val olderScale: Float, val newerScale: Float,
        /** What was measured on each, in pixels of the small newer picture; the older one only where it can be carried over. */
        val then: List<Dot>, val now: List<Dot>,
    )

    private fun line(key: String): List<Dot> =
        at[key].orEmpty().split(',').mapNotNull { it.toDoubleOrNull() }.chunked(2).filter { it.size == 2 }.map { (x, y) -> Dot(x, y) }

    override fun load(): Unit = apart({
        val older = Photos.small(at["older"].orEmpty(), (at["older_turned"] ?: "1").toInt(), 900)
        val newer = Photos.small(at["newer"].orEmpty(), (at["newer_turned"] ?: "1").toInt(), 900)
        if (older == null || newer == null) null else {
            val work = PhotoAtWork.open(Source.Path(at["newer"].orEmpty()))
            val other = PhotoAtWork.open(Source.Path(at["older"].orEmpty()))
            try {
                val laid = work.lay(Source.Path(at["older"].orEmpty()))
                val k = newer.width / work.size().width.toFloat()
                fun small(points: List<Dot>) = points.map { Dot(it.x * k, it.y * k) }
                val before = line("older_line")
                val then = if (laid.sameView && laid.matrix.size == 9 && before.isNotEmpty()) small(work.carry(laid.matrix, before)) else emptyList()
                Both(older, newer, laid, older.width / other.size().width.toFloat(), k, then, small(line("newer_line")))
            } finally { work.shut(); work.close(); other.shut(); other.close() }
        }
    }) { both ->
        draw {
            title(word(R.string.older_on_newer))
            if (both == null) line(word(R.string.photo_unreadable)) else {
                val flick = FlickView(host.activity, host.ink, both.older, both.newer, matrix(both), both.then, both.now, at["closed"] == "yes").apply { contentDescription = word(R.string.flick_says, at["older_date"].orEmpty(), at["newer_date"].orEmpty()); tag = "flick" }
                picture(flick, 400)
                line(both.laid.says)
                if (both.then.isNotEmpty() && both.now.isNotEmpty()) quiet(word(R.string.growth_drawn, at["older_date"].orEmpty(), at["newer_date"].orEmpty()))
                val shown = action(word(R.string.show_older, at["older_date"].orEmpty()), "main", "flick") {}
                shown.setOnClickListener {
                    flick.old = !flick.old
                    shown.text = if (flick.old) word(R.string.show_newer, at["newer_date"].orEmpty()) else word(R.string.show_older, at["older_date"].orEmpty())
                }
            }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }

    /** From pixels of the small older picture to pixels of the small newer one; none where the view is not the same: then both fill the frame. */
    private fun matrix(both: Both): Matrix? {
        if (!both.laid.sameView || both.laid.matrix.size != 9) return null
        return Matrix().apply {
            setValues(FloatArray(9) { both.laid.matrix[it].toFloat() })
            preScale(1 / both.olderScale, 1 / both.olderScale)
            postScale(both.newerScale, both.newerScale)
        }
    }
}

class FlickView(
    context: Context, private val ink: Ink, private val older: Bitmap, private val newer: Bitmap, private val laid: Matrix?,
    private val then: List<Dot>, private val now: List<Dot>, private val closed: Boolean,
) : View(context) {
    private val paint = Paint(Paint.ANTI_ALIAS_FLAG)
    private val px = resources.displayMetrics.density
    var old = false; set(value) { field = value; invalidate() }

    override fun onTouchEvent(event: MotionEvent): Boolean {
        when (event.actionMasked) {
            MotionEvent.ACTION_DOWN -> old = true
            MotionEvent.ACTION_UP -> { old = false; performClick() }
            MotionEvent.ACTION_CANCEL -> old = false
        }
        return true
    }
    override fun performClick(): Boolean { super.performClick(); return true }

    override fun onDraw(canvas: Canvas) {
        val k = minOf(width.toFloat() / newer.width, height.toFloat() / newer.height)
        val fit = Matrix().apply { setScale(k, k); postTranslate((width - newer.width * k) / 2, (height - newer.height * k) / 2) }
        if (!old) canvas.drawBitmap(newer, fit, null)
        else {
            val over = if (laid != null) Matrix(laid) else Matrix().apply { setScale(newer.width.toFloat() / older.width, newer.height.toFloat() / older.height) }
            over.postConcat(fit)
            canvas.drawBitmap(older, over, null)
        }
        // Growth: the older line dashed, the newer one drawn out; a light edge keeps both readable on any skin.
        stroke(canvas, path(then, fit), DashPathEffect(floatArrayOf(6 * px, 5 * px), 0f))
        if (laid != null || !old) stroke(canvas, path(now, fit), null)
    }

    private fun path(points: List<Dot>, fit: Matrix) = Path().apply {
        points.forEachIndexed { i, dot -> if (i == 0) moveTo(dot.x.toFloat(), dot.y.toFloat()) else lineTo(dot.x.toFloat(), dot.y.toFloat()) }
        if (closed && points.size > 2) close()
        transform(fit)
    }

    private fun stroke(canvas: Canvas, path: Path, dashes: DashPathEffect?) {
        paint.style = Paint.Style.STROKE
        paint.pathEffect = null
        paint.color = ink.paper; paint.strokeWidth = 5 * px; canvas.drawPath(path, paint)
        paint.pathEffect = dashes
        paint.color = ink.mark; paint.strokeWidth = 2 * px; canvas.drawPath(path, paint)
    }
}
