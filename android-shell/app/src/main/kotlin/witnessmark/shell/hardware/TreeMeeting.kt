package witnessmark.shell.hardware

import android.content.Context
import android.net.Uri
import android.provider.DocumentsContract
import android.provider.DocumentsContract.Document
import java.io.File
import java.io.FileNotFoundException

/** A folder picked through the storage access framework. Names below it use `/`. */
class TreeMeeting(context: Context, tree: String) : Meeting {
    private val resolver = context.contentResolver
    private val root: Uri = Uri.parse(tree)
    private val ids = HashMap<String, String>()

    private fun walk(id: String, below: String, found: HashMap<String, Long>) {
        val children = DocumentsContract.buildChildDocumentsUriUsingTree(root, id)
        val columns = arrayOf(Document.COLUMN_DOCUMENT_ID, Document.COLUMN_DISPLAY_NAME, Document.COLUMN_MIME_TYPE, Document.COLUMN_SIZE)
        resolver.query(children, columns, null, null, null)?.use { rows ->
            while (rows.moveToNext()) {
                val name = below + rows.getString(1)
                ids[name] = rows.getString(0)
                if (rows.getString(2) == Document.MIME_TYPE_DIR) walk(rows.getString(0), "$name/", found) else found[name] = rows.getLong(3)
            }
        }
    }

    override fun list(): Map<String, Long> {
        ids.clear()
        return HashMap<String, Long>().also { walk(DocumentsContract.getTreeDocumentId(root), "", it) }
    }

    override fun get(name: String, into: File) {
        val uri = DocumentsContract.buildDocumentUriUsingTree(root, ids.getValue(name))
        val from = resolver.openInputStream(uri) ?: throw FileNotFoundException(name)
        from.use { bytes -> into.outputStream().use { bytes.copyTo(it) } }
    }

    override fun put(name: String, from: File) {
        var at = DocumentsContract.getTreeDocumentId(root)
        val parts = name.split('/')
        var path = ""
        for (part in parts.dropLast(1)) {
            path += part
            at = ids.getOrPut(path) { create(at, Document.MIME_TYPE_DIR, part) }
            path += "/"
        }
        val made = create(at, "application/octet-stream", parts.last())
        val uri = DocumentsContract.buildDocumentUriUsingTree(root, made)
        val into = resolver.openOutputStream(uri) ?: throw FileNotFoundException(name)
        into.use { out -> from.inputStream().use { it.copyTo(out) } }
        ids[name] = made
    }

    private fun create(parent: String, kind: String, name: String): String {
        val made = DocumentsContract.createDocument(resolver, DocumentsContract.buildDocumentUriUsingTree(root, parent), kind, name)
            ?: throw FileNotFoundException(name)
        return DocumentsContract.getDocumentId(made)
    }
}
