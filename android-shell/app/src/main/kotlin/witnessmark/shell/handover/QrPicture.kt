package witnessmark.shell.handover

import android.content.Context
import android.graphics.Canvas
import android.graphics.Color
import android.graphics.Paint
import android.view.View

/** Draws the core's QR: an SVG of one path of rectangles, `Mx yhwvhH…V…`. Black on white in every theme, so that it can be read. */
class QrPicture(context: Context, svg: String) : View(context) {
    private val size = Regex("""viewBox="0 0 (\d+) (\d+)"""").find(svg)?.groupValues?.get(1)?.toFloat() ?: 1f
    val squares: List<FloatArray> = Regex("""M(\d+) (\d+)h(\d+)v(\d+)""").findAll(svg)
        .map { m -> FloatArray(4) { m.groupValues[it + 1].toFloat() } }.toList()
    private val paint = Paint()
    override fun onDraw(canvas: Canvas) {
        val side = minOf(width, height).toFloat(); val k = side / size
        val x0 = (width - side) / 2; val y0 = (height - side) / 2
        paint.color = Color.WHITE
        canvas.drawRect(x0, y0, x0 + side, y0 + side, paint)
        paint.color = Color.BLACK
        for (s in squares) canvas.drawRect(x0 + s[0] * k, y0 + s[1] * k, x0 + (s[0] + s[2]) * k, y0 + (s[1] + s[3]) * k, paint)
    }
}
