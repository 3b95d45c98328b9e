package witnessmark.shell.work

import android.os.ParcelFileDescriptor
import java.io.File
import java.io.FileOutputStream
import org.json.JSONObject
import witnessmark.door.CapturedView
import witnessmark.door.Notebook
import witnessmark.door.PlaceGiven
import witnessmark.door.Source
import witnessmark.door.Trouble

/** What is about to be taken, and where it belongs. */
data class Job(
    val kind: String, val file: File, val note: File,
    val aircraft: String?, val stop: String?, val zone: String?, val finding: String?, val view: String?, val taken: Boolean,
    /** The name it came with, and for a paper its kind. */
    val name: String?, val paper: String?,
)

/** What became of the jobs: kept, in their order; and what the core could not use, which is set aside. */
class Settled(val kept: List<Pair<Job, CapturedView>>, val refused: List<String>) {
    val last: CapturedView? get() = kept.lastOrNull()?.second
    fun says(): String = (listOfNotNull(last?.says) + last?.notices.orEmpty() + refused).joinToString(" ")
}

/**
 * What is about to be taken is written down, with its place, before a camera or microphone is opened.
 * Whoever is alive afterwards, this process or the next, hands what lies in the file to the core; the
 * order of a burst is the order of the notes.
 */
class Taking(private val folder: File) {
    init { folder.mkdirs() }

    fun begin(
        kind: String, aircraft: String?, stop: String?, zone: String? = null, finding: String? = null,
        view: String? = null, taken: Boolean = true, name: String? = null, paper: String? = null,
        ending: String = "jpg",
    ): Job {
        val last = folder.list().orEmpty().mapNotNull { it.substringBefore('.').toIntOrNull() }.maxOrNull() ?: 0
        val number = "%06d".format(java.util.Locale.ROOT, last + 1)
        val note = File(folder, "$number.json")
        val text = JSONObject().put("kind", kind).put("ending", ending).put("taken", taken)
        listOf("aircraft" to aircraft, "stop" to stop, "zone" to zone, "finding" to finding, "view" to view, "name" to name, "paper" to paper)
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
            word("name"), word("paper"),
        )
    } catch (_: org.json.JSONException) {
        null
    }

    fun open(): List<Job> = folder.listFiles { file -> file.name.endsWith(".json") }.orEmpty().sorted().mapNotNull { read(it) }

    /**
     * On the core's thread: keeps what was taken; a job with nothing in its file was called off. What the
     * core cannot use is set aside whole and said, so that it does not hold up what came after it; a
     * trouble of the machine, such as a full storage, leaves every job where it is.
     */
    fun settle(book: Notebook): Settled {
        val kept = ArrayList<Pair<Job, CapturedView>>()
        val refused = ArrayList<String>()
        for (job in open()) {
            if (job.file.length() == 0L) { forget(job); continue }
            try {
                kept.add(job to hand(book, job))
                // Only what the core has acknowledged may go.
                forget(job)
            } catch (trouble: Trouble.Input) {
                refused.add(CoreThread.wrong(trouble).words() + " (" + setAside(job).path + ")")
            }
        }
        return Settled(kept, refused)
    }

    private fun hand(book: Notebook, job: Job): CapturedView {
        val place = PlaceGiven(job.aircraft, job.stop, job.zone, job.finding, job.view, job.taken)
        // A file from elsewhere keeps the name it came with.
        val open = job.name?.let { ParcelFileDescriptor.open(job.file, ParcelFileDescriptor.MODE_READ_ONLY) }
        return open.use {
            val source = if (open == null) Source.Path(job.file.path) else Source.Descriptor(open.fd, job.name.orEmpty())
            when (job.kind) {
                "voice" -> book.takeVoice(source, place)
                "paper" -> book.takePaper(source, job.paper, place)
                else -> book.takePhoto(source, place)
            }
        }
    }

    private fun setAside(job: Job): File {
        val aside = File(folder.parentFile, "aside").apply { mkdirs() }
        var n = 0
        var to = File(aside, job.name?.substringAfterLast('/') ?: job.file.name)
        while (to.exists()) to = File(aside, "${++n}-${job.file.name}")
        if (job.file.renameTo(to)) job.note.delete()
        return to
    }

    fun forget(job: Job) { job.file.delete(); job.note.delete() }
}
