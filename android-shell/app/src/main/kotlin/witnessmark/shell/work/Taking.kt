package witnessmark.shell.work

import java.io.File
import java.io.FileOutputStream
import org.json.JSONObject
import witnessmark.door.CapturedView
import witnessmark.door.Notebook
import witnessmark.door.PlaceGiven
import witnessmark.door.Source

/** What is about to be taken, and where it belongs. */
data class Job(
    val kind: String, val file: File, val note: File,
    val aircraft: String?, val stop: String?, val zone: String?, val finding: String?, val view: String?, val taken: Boolean,
)

/**
 * What is about to be taken is written down, with its place, before a camera or microphone is opened.
 * Whoever is alive afterwards, this process or the next, hands what lies in the file to the core; the
 * order of a burst is the order of the notes.
 */
class Taking(private val folder: File) {
    init { folder.mkdirs() }

    fun begin(
        kind: String, aircraft: String?, stop: String?, zone: String? = null, finding: String? = null,
        view: String? = null, taken: Boolean = true,
    ): Job {
        val last = folder.list().orEmpty().mapNotNull { it.substringBefore('.').toIntOrNull() }.maxOrNull() ?: 0
        val name = "%06d".format(java.util.Locale.ROOT, last + 1)
        val ending = if (kind == "voice") "aac" else "jpg"
        val note = File(folder, "$name.json")
        val text = JSONObject().put("kind", kind).put("ending", ending).put("taken", taken)
        listOf("aircraft" to aircraft, "stop" to stop, "zone" to zone, "finding" to finding, "view" to view)
            .forEach { (key, value) -> value?.let { text.put(key, it) } }
        FileOutputStream(note).use { it.write(text.toString().toByteArray()); it.fd.sync() }
        return read(note)!!
    }

    private fun read(note: File): Job? = try {
        val text = JSONObject(note.readText())
        fun word(key: String) = text.optString(key).ifEmpty { null }
        Job(
            text.getString("kind"), File(folder, note.name.substringBefore('.') + "." + text.getString("ending")), note,
            word("aircraft"), word("stop"), word("zone"), word("finding"), word("view"), text.optBoolean("taken", true),
        )
    } catch (_: org.json.JSONException) {
        null
    }

    fun open(): List<Job> = folder.listFiles { file -> file.name.endsWith(".json") }.orEmpty().sorted().mapNotNull { read(it) }

    /** On the core's thread: keeps what was taken; a job with nothing in its file was called off. */
    fun settle(book: Notebook, except: Job? = null): List<CapturedView> = open().filter { it.note != except?.note }.mapNotNull { job ->
        if (job.file.length() == 0L) { forget(job); return@mapNotNull null }
        val place = PlaceGiven(job.aircraft, job.stop, job.zone, job.finding, job.view, job.taken)
        val source = Source.Path(job.file.path)
        val kept = when (job.kind) {
            "voice" -> book.takeVoice(source, place)
            "paper" -> book.takePaper(source, null, place)
            else -> book.takePhoto(source, place)
        }
        // Only what the core has acknowledged may go.
        forget(job)
        kept
    }

    fun forget(job: Job) { job.file.delete(); job.note.delete() }
}
