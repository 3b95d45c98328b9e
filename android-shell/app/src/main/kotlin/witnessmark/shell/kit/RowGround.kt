package witnessmark.shell.kit

import android.graphics.Canvas
import android.graphics.ColorFilter
import android.graphics.Paint
import android.graphics.PixelFormat
import android.graphics.drawable.Drawable

/** A ruled line below a row; a mark at its start when pressed or in focus. */
class RowGround(private val ink: Ink, private val px: Float) : Drawable() {
    private val paint = Paint()
    private var on = false
    override fun isStateful() = true
    override fun onStateChange(state: IntArray): Boolean {
        val now = state.contains(android.R.attr.state_pressed) || state.contains(android.R.attr.state_focused)
        if (now == on) return false
        on = now
        invalidateSelf()
        return true
    }
    override fun draw(canvas: Canvas) {
        paint.color = ink.rule
        canvas.drawRect(bounds.left.toFloat(), bounds.bottom - px, bounds.right.toFloat(), bounds.bottom.toFloat(), paint)
        if (on) {
            paint.color = ink.mark
            paint.style = Paint.Style.STROKE; paint.strokeWidth = 3 * px
            canvas.drawRect(bounds.left + 2 * px, bounds.top + 2 * px, bounds.right - 2 * px, bounds.bottom - 2 * px, paint)
            paint.style = Paint.Style.FILL
        }
    }
    override fun setAlpha(alpha: Int) = Unit
    override fun setColorFilter(filter: ColorFilter?) = Unit
    @Deprecated("Deprecated in Java") override fun getOpacity() = PixelFormat.TRANSLUCENT
}
