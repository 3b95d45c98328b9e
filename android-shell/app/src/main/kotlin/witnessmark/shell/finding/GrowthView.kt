package witnessmark.shell.finding

import android.content.Context
import android.graphics.Canvas
import android.graphics.Paint
import android.view.View
import witnessmark.door.StoryLine
import witnessmark.shell.kit.Ink

/**
 * Values in order with their expanded uncertainty (k = 2), as a ruled sketch. Drawn from what the core gave,
 * nothing computed but where to draw: only values of the unit of the last one, and no line across something
 * that was done.
 */
class GrowthView(context: Context, private val ink: Ink, whole: List<StoryLine>) : View(context) {
    private val story = whole.filter { it.value != null && it.unit == whole.last { line -> line.value != null }.unit }
    private val begins = story.map { line -> whole.getOrNull(whole.indexOf(line) - 1)?.kind == "step" }
    private val unit = story.lastOrNull()?.unit.orEmpty()
    private val paint = Paint(Paint.ANTI_ALIAS_FLAG)
    override fun onDraw(canvas: Canvas) {
        val px = resources.displayMetrics.density
        val sp = 13f * px * resources.configuration.fontScale.coerceAtMost(1.4f)
        val high = story.maxOf { (it.value ?: 0.0) + 2 * (it.u ?: 0.0) }.coerceAtLeast(1e-9)
        val foot = height - sp * 1.6f; val room = foot - sp * 1.4f
        fun y(v: Double) = (foot - v / high * room).toFloat()
        fun x(i: Int) = 24 * px + i * (width - 60 * px) / maxOf(1, story.size - 1)
        paint.color = ink.rule; paint.strokeWidth = px
        canvas.drawLine(0f, foot, width.toFloat(), foot, paint)
        story.forEachIndexed { i, step ->
            val v = step.value ?: return@forEachIndexed
            val u = 2 * (step.u ?: 0.0)
            paint.color = ink.ink; paint.strokeWidth = 2 * px
            canvas.drawLine(x(i), y(v - u), x(i), y(v + u), paint)
            canvas.drawLine(x(i) - 5 * px, y(v - u), x(i) + 5 * px, y(v - u), paint)
            canvas.drawLine(x(i) - 5 * px, y(v + u), x(i) + 5 * px, y(v + u), paint)
            canvas.drawCircle(x(i), y(v), 4 * px, paint)
            if (i > 0 && !begins[i]) story[i - 1].value?.let { paint.strokeWidth = px; canvas.drawLine(x(i - 1), y(it), x(i), y(v), paint) }
            paint.textSize = sp
            if (i == story.size - 1) { paint.textAlign = Paint.Align.RIGHT; canvas.drawText(unit, width.toFloat(), sp, paint) }
            paint.textAlign = if (i == 0) Paint.Align.LEFT else if (i == story.size - 1) Paint.Align.RIGHT else Paint.Align.CENTER
            val tx = if (i == 0) 0f else if (i == story.size - 1) width.toFloat() else x(i)
            canvas.drawText(step.date.takeLast(5), tx, height - sp * 0.3f, paint)
        }
    }

    companion object {
        /** Two values of one unit are the least that shows anything. */
        fun drawable(story: List<StoryLine>): Boolean {
            val last = story.lastOrNull { it.value != null } ?: return false
            return story.count { it.value != null && it.unit == last.unit } > 1
        }
    }
}
