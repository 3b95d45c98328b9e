package witnessmark.shell.kit

import android.graphics.Canvas
import android.graphics.ColorFilter
import android.graphics.Paint
import android.graphics.PixelFormat
import android.graphics.drawable.Drawable

/**
 * Ground of an action, after the riveted plates of an airframe: `main` filled with a rivet in each
 * corner, `usual` a double-ruled outline, `small` a single rule below. Pressed inverts by a thick frame;
 * focus (keys, switches) draws the mark round it.
 */
class Placard(private val ink: Ink, private val size: String, private val px: Float) : Drawable() {
    private val paint = Paint(Paint.ANTI_ALIAS_FLAG)
    private var pressed = false
    private var focused = false

    override fun isStateful() = true
    override fun onStateChange(state: IntArray): Boolean {
        val p = state.contains(android.R.attr.state_pressed); val f = state.contains(android.R.attr.state_focused)
        if (p == pressed && f == focused) return false
        pressed = p; focused = f
        invalidateSelf()
        return true
    }

    override fun draw(canvas: Canvas) {
        val b = bounds
        fun frame(inset: Float, width: Float, colour: Int) {
            paint.style = Paint.Style.STROKE; paint.strokeWidth = width; paint.color = colour
            canvas.drawRect(b.left + inset, b.top + inset, b.right - inset, b.bottom - inset, paint)
        }
        when (size) {
            "main" -> {
                paint.style = Paint.Style.FILL; paint.color = ink.plate
                canvas.drawRect(b, paint)
                paint.color = ink.onPlate
                val r = 2.5f * px; val at = 9 * px
                for (x in listOf(b.left + at, b.right - at)) for (y in listOf(b.top + at, b.bottom - at)) canvas.drawCircle(x, y, r, paint)
                frame(0.5f * px, px, if (ink.night) ink.rule else ink.plate)
            }
            "usual" -> { frame(px, 2 * px, ink.ink); frame(5 * px, px, ink.rule) }
            else -> {
                paint.style = Paint.Style.FILL; paint.color = ink.rule
                canvas.drawRect(b.left + 4 * px, b.bottom - 2 * px, b.right - 4 * px, b.bottom - px, paint)
            }
        }
        if (pressed) frame(4 * px, 6 * px, if (size == "main") ink.onPlate else ink.ink)
        if (focused) frame(3 * px, 4 * px, ink.mark)
    }

    override fun setAlpha(alpha: Int) = Unit
    override fun setColorFilter(filter: ColorFilter?) = Unit
    @Deprecated("Deprecated in Java") override fun getOpacity() = PixelFormat.TRANSLUCENT
}
