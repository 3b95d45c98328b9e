package witnessmark.shell.kit

import android.graphics.Bitmap
import android.graphics.BitmapFactory
import android.graphics.Matrix

/** Pictures small enough to show; the original is never written. */
object Photos {
    /** None for what this device cannot show. */
    fun small(path: String, orientation: Int, wanted: Int): Bitmap? {
        val ask = BitmapFactory.Options().apply { inJustDecodeBounds = true }
        BitmapFactory.decodeFile(path, ask)
        if (ask.outWidth <= 0) return null
        var sample = 1
        while (minOf(ask.outWidth, ask.outHeight) / (sample * 2) >= wanted) sample *= 2
        val bitmap = BitmapFactory.decodeFile(path, BitmapFactory.Options().apply { inSampleSize = sample }) ?: return null
        return upright(bitmap, orientation)
    }

    /** EXIF 2.32, tag 0x0112. */
    fun upright(bitmap: Bitmap, orientation: Int): Bitmap {
        val matrix = Matrix()
        when (orientation) {
            2 -> matrix.setScale(-1f, 1f)
            3 -> matrix.setRotate(180f)
            4 -> matrix.setScale(1f, -1f)
            5 -> { matrix.setRotate(90f); matrix.postScale(-1f, 1f) }
            6 -> matrix.setRotate(90f)
            7 -> { matrix.setRotate(-90f); matrix.postScale(-1f, 1f) }
            8 -> matrix.setRotate(-90f)
            else -> return bitmap
        }
        return Bitmap.createBitmap(bitmap, 0, 0, bitmap.width, bitmap.height, matrix, true)
    }
}
