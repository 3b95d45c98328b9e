package witnessmark.shell.files

import android.content.ContentProvider
import android.content.ContentResolver
import android.content.ContentValues
import android.content.Context
import android.database.Cursor
import android.database.MatrixCursor
import android.net.Uri
import android.os.ParcelFileDescriptor
import android.provider.OpenableColumns
import java.io.File
import java.io.FileNotFoundException

/**
 * Two folders and nothing else: `out` (what is handed over, read only) and `taking` (where the system
 * camera may write one file). Not exported: a reader needs a grant for one name, given with one intent.
 */
class OwnFiles : ContentProvider() {
    override fun onCreate() = true

    private fun file(uri: Uri): Pair<String, File> {
        val parts = uri.pathSegments
        val name = parts.getOrNull(1)
        if (parts.size != 2 || parts[0] !in listOf(OUT, TAKING) || name == null || name.contains('/') || name.startsWith("."))
            throw FileNotFoundException(uri.toString())
        return parts[0] to File(folder(context!!, parts[0]), name)
    }

    override fun openFile(uri: Uri, mode: String): ParcelFileDescriptor {
        val (kind, file) = file(uri)
        if (kind == OUT && mode != "r") throw FileNotFoundException(uri.toString())
        return ParcelFileDescriptor.open(file, ParcelFileDescriptor.parseMode(mode))
    }

    override fun query(uri: Uri, projection: Array<String>?, s: String?, a: Array<String>?, o: String?): Cursor {
        val (_, file) = file(uri)
        val columns = projection ?: arrayOf(OpenableColumns.DISPLAY_NAME, OpenableColumns.SIZE)
        return MatrixCursor(columns).apply {
            addRow(columns.map { if (it == OpenableColumns.DISPLAY_NAME) file.name else if (it == OpenableColumns.SIZE) file.length() else null })
        }
    }

    override fun getType(uri: Uri): String = when (file(uri).second.extension) {
        "zip" -> "application/zip"
        "html" -> "text/html"
        "jpg" -> "image/jpeg"
        else -> "application/octet-stream"
    }
    override fun insert(uri: Uri, values: ContentValues?): Uri? = null
    override fun delete(uri: Uri, s: String?, a: Array<String>?) = 0
    override fun update(uri: Uri, values: ContentValues?, s: String?, a: Array<String>?) = 0

    companion object {
        const val OUT = "out"
        const val TAKING = "taking"
        fun folder(context: Context, kind: String) = File(context.filesDir, kind).apply { mkdirs() }
        /** The name a file from elsewhere goes by there; none if it does not say. */
        fun nameOf(from: ContentResolver, uri: Uri): String? = try {
            from.query(uri, arrayOf(OpenableColumns.DISPLAY_NAME), null, null, null)?.use { if (it.moveToFirst()) it.getString(0) else null }
        } catch (_: RuntimeException) { // a provider of somebody else's may throw anything here
            null
        } ?: uri.lastPathSegment?.substringAfterLast('/')?.takeIf { '.' in it }
        fun uri(kind: String, name: String): Uri =
            Uri.Builder().scheme("content").authority("witnessmark.shell.files").appendPath(kind).appendPath(name).build()
    }
}
