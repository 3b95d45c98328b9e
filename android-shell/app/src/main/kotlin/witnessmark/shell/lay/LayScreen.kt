package witnessmark.shell.lay

import android.content.Context
import android.graphics.Bitmap
import android.graphics.Canvas
import android.graphics.Matrix
import android.view.MotionEvent
import android.view.View
import witnessmark.door.LayView
import witnessmark.door.PhotoAtWork
import witnessmark.door.Source
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Photos
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** The older photo laid on the newer: press shows the older, letting go the newer. */
class LayScreen(host: Host, at: Where) : Screen(host, at) {
    private class Both(val older: Bitmap, val newer: Bitmap, val laid: LayView, val olderScale: Float, val newerScale: Float)

    override fun load(): Unit = apart({
        val older = Photos.small(at["older"].orEmpty(), (at["older_turned"] ?: "1").toInt(), 900)
        val newer = Photos.small(at["newer"].orEmpty(), (at["newer_turned"] ?: "1").toInt(), 900)
        if (older == null || newer == null) null else {
            val work = PhotoAtWork.open(Source.Path(at["newer"].orEmpty()))
            val other = PhotoAtWork.open(Source.Path(at["older"].orEmpty()))
            try {
                Both(older, newer, work.lay(Source.Path(at["older"].orEmpty())), older.width / other.size().width.toFloat(), newer.width / work.size().width.toFloat())
            } finally { work.shut(); work.close(); other.shut(); other.close() }
        }
    }) { both ->
        draw {
            title(word(R.string.older_on_newer))
            if (both == null) line(word(R.string.photo_unreadable)) else {
                val flick = FlickView(host.activity, both.older, both.newer, matrix(both)).apply { contentDescription = word(R.string.flick_says, at["older_date"].orEmpty(), at["newer_date"].orEmpty()); tag = "flick" }
                picture(flick, 400)
                line(both.laid.says)
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

class FlickView(context: Context, private val older: Bitmap, private val newer: Bitmap, private val laid: Matrix?) : View(context) {
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
        canvas.drawBitmap(newer, fit, null)
        if (!old) return
        val over = if (laid != null) Matrix(laid) else Matrix().apply { setScale(newer.width.toFloat() / older.width, newer.height.toFloat() / older.height) }
        over.postConcat(fit)
        canvas.drawBitmap(older, over, null)
    }
}
