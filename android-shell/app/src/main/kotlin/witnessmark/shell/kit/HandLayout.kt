package witnessmark.shell.kit

import android.content.Context
import android.view.View
import android.view.View.MeasureSpec.AT_MOST
import android.view.View.MeasureSpec.EXACTLY
import android.view.View.MeasureSpec.makeMeasureSpec
import android.view.ViewGroup

/**
 * Two parts: what is read, and what is done. Upright, what is done lies at the bottom and takes at most
 * six tenths of the height, so that the top third is only ever read; on its side and on tablets it is a
 * column at the thumb, of a thumb's reach. Both parts scroll, so no text size can cut a word off.
 */
class HandLayout(context: Context, private val reading: View, private val hand: View, private val thumbLeft: Boolean) : ViewGroup(context) {
    init { addView(reading); addView(hand) }

    private fun wide(w: Int, h: Int): Boolean = w > h * 1.05 || w >= 640 * resources.displayMetrics.density

    override fun onMeasure(widthSpec: Int, heightSpec: Int) {
        val w = MeasureSpec.getSize(widthSpec); val h = MeasureSpec.getSize(heightSpec)
        setMeasuredDimension(w, h)
        if (wide(w, h)) {
            val column = minOf((w * 0.46f).toInt(), (380 * resources.displayMetrics.density * resources.configuration.fontScale.coerceIn(1f, 1.4f)).toInt())
            hand.measure(makeMeasureSpec(column, EXACTLY), makeMeasureSpec(h, AT_MOST))
            reading.measure(makeMeasureSpec(w - column, EXACTLY), makeMeasureSpec(h, EXACTLY))
        } else {
            hand.measure(makeMeasureSpec(w, EXACTLY), makeMeasureSpec((h * 0.62f).toInt(), AT_MOST))
            reading.measure(makeMeasureSpec(w, EXACTLY), makeMeasureSpec(h - hand.measuredHeight, EXACTLY))
        }
    }

    override fun onLayout(changed: Boolean, l: Int, t: Int, r: Int, b: Int) {
        val w = r - l; val h = b - t
        if (wide(w, h)) {
            val column = hand.measuredWidth
            val x = if (thumbLeft) 0 else w - column
            hand.layout(x, h - hand.measuredHeight, x + column, h)
            val from = if (thumbLeft) column else 0
            reading.layout(from, 0, from + reading.measuredWidth, h)
        } else {
            reading.layout(0, 0, w, reading.measuredHeight)
            hand.layout(0, h - hand.measuredHeight, w, h)
        }
    }
}
