package witnessmark.shell.handover

import java.io.File
import witnessmark.door.Notebook
import witnessmark.door.ReceivedView
import witnessmark.shell.hardware.Meeting

/**
 * The core meets the others in a folder of ours that mirrors the picked one: what is new there is copied
 * here, the core exchanges, what it left is copied there. Files of a meeting place are never changed, so
 * a name and a length settle what is new.
 */
fun exchange(book: Notebook, place: Meeting, local: File): ReceivedView {
    local.mkdirs()
    fun mine() = local.walkTopDown().filter { it.isFile }.associateBy { it.relativeTo(local).invariantSeparatorsPath }
    val there = place.list()
    val before = mine()
    for ((name, size) in there) {
        require(".." !in name.split('/'))
        if (before[name]?.length() == size) continue
        val into = File(local, name)
        into.parentFile?.mkdirs()
        place.get(name, into)
    }
    val met = book.exchange(local.path, false)
    for ((name, file) in mine()) if (there[name] != file.length()) place.put(name, file)
    return met
}
