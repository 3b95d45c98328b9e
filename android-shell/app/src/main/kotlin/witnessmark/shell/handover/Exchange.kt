package witnessmark.shell.handover

import java.io.File
import java.io.FileNotFoundException
import witnessmark.door.FileGiven
import witnessmark.door.Notebook
import witnessmark.door.ReceivedView
import witnessmark.shell.hardware.Meeting

/**
 * The core's one planner says step by step what to copy from the picked folder and what to copy there;
 * nothing is decided here. [way] holds what is on its way and is empty before and after. A place whose
 * files keep vanishing is left after a few turns: meeting once more completes it.
 */
fun exchange(book: Notebook, place: Meeting, way: File): ReceivedView {
    lateinit var met: ReceivedView
    try {
        for (turn in 1..6) {
            way.mkdirs()
            val there = place.list().map { (name, size) -> FileGiven(name, size.toULong()) }
            val now = book.exchangeTurn(there, way.path)
            met = now.received
            for (step in now.steps) {
                if (!step.get) place.put(step.name, File(step.path))
                else try { place.get(step.name, File(step.path)) } catch (_: FileNotFoundException) { /* not there any more: the next turn's list says so */ }
            }
            if (now.done) break
        }
    } finally {
        way.deleteRecursively()
    }
    return met
}
