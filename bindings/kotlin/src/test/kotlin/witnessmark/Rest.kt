package witnessmark

import java.nio.file.Files
import org.junit.Assert.*
import witnessmark.door.*

/** What the main job has no need of: the other calls, and each record where it has more to say. */
fun Job.rest() {
    val book = book(folder, "rest", Author("C. Example", "buyer"), 9)
    val craft = book.addAircraft("N0RST", "Invented 4", "SN 12", "low_wing_fixed", false)
    seenAll(book.aircraft())
    seenAll(notSeenReasons())
    seenAll(treatments())
    seenAll(againChoices())
    seenAll(paperKinds())

    // a walk begins by itself with the first thing that is written on it
    val stops = book.walk(craft, route).stops.map { it.key }
    val next = seen(book.nothingFoundNext(craft, stops[1], route))
    assertNotNull(next.started)
    book.finishWalkaround(craft)

    book.startWalkaround(craft, WalkaroundGiven("prepurchase", "10.0", null))
    assertEquals(stops[0], seen(book.stop(craft, stops[1], route)).previousStop)
    stops.forEach { seen(book.stop(craft, it, route)) }
    val fairing = "the left wheel fairing"
    val kept = listOf("crack two inches on $fairing", "crack three inches on $fairing", "$fairing looked at, nothing found", "oil six and a half quarts", "smells of burnt rubber somewhere").map {
        val draft = seen(book.hear(craft, it, listOf(), stops[1]))
        assertTrue("$draft", draft.mayKeep)
        seen(book.keep(craft, draft.draft, stops[1]))
    }
    val finding = kept[0].opened[0]
    assertEquals(listOf(finding), kept[1].sighted)
    assertEquals(1, kept[2].looks.size)
    assertEquals(1, kept[3].readings.size)
    assertEquals(1, kept[4].notes.size)
    val command = seen(book.hear(craft, "next", listOf(), stops[1]))
    assertFalse(command.mayKeep)
    assertTrue(book.phrases(craft, stops[1], 20u).size in 1..20)
    assertTrue(book.completions(craft, "cra", stops[1], 5u).any { it.contains("crack") })

    val zone = book.finding(craft, finding).line.zone
    val photo = seen(book.takePhoto(Source.Path(photo.path), place(craft, zone = zone)))
    book.advice(photo.entry)
    troubled<Trouble.Input> { book.advice("") }
    book.sight(craft, finding, SightingGiven("present", null, "measured", null, listOf(measure("3 1/2")), listOf(photo.entry), "seen from below", null))
    val leak = book.openFinding(craft, FindingGiven(zone, "fluid_leak", "under the caliper", listOf("brake fluid or rain")), sighting())
    val screen = seen(book.finding(craft, leak))
    val step = screen.steps.last().key
    book.sight(craft, leak, SightingGiven("present", null, null, step, listOf(), listOf(), null, null))
    assertTrue(seen(book.finding(craft, leak)).story.last().says.isNotEmpty())
    book.sight(craft, leak, SightingGiven("could_not_check", notSeenReasons()[0].key, null, null, listOf(), listOf(), null, null))
    val last = seen(book.finding(craft, leak)).story.last()
    assertEquals("could_not_check", last.kind)
    assertTrue(last.says, last.says.contains(notSeenReasons()[0].key))
    seen(book.finding(craft, finding))
    seen(book.again(craft))
    book.readBeforeFlight(craft)
    seen(book.beforeFlight(craft))

    // said about findings, and put right
    book.defer(craft, leak, "B. Example", "the mechanic", "2026-08-01")
    book.maintenanceEntry(craft, leak, "work order 12")
    val again = book.openFinding(craft, FindingGiven(zone, "crack", null, listOf()), sighting(measure("1")))
    book.joinFindings(craft, finding, again)
    assertEquals(2, book.findings(craft).size)
    val alone = book.finding(craft, finding).story.last().entry
    val split = book.splitFinding(craft, finding, listOf(alone), "the rear edge")
    assertTrue(book.findings(craft).any { it.id == split })
    book.closeFinding(craft, leak, "only rain", "B. Example", "work order 13")
    assertFalse(book.finding(craft, leak).line.open)
    book.reopen(craft, leak, "it came back")
    assertTrue(book.finding(craft, leak).line.open)
    troubled<Trouble.Input> { book.treat(craft, leak, " ", null) }
    troubled<Trouble.Input> { book.closeFinding(craft, leak, "", null, null) }
    val note = seen(book.writeNote("said by mistake", place(craft, zone = zone)))
    book.takeBack(note.entry, "said by mistake")
    assertTrue(book.zone(craft, zone).captures.none { it.entry == note.entry })
    val voice = book.takeVoice(wav(folder), place(craft))
    assertTrue(book.removeRecording(voice.entry, "somebody else's voice"))
    val from = stops.first { key -> book.stop(craft, key, route).zones.any { it.code == zone } }
    // the next walk has not looked there yet
    book.finishWalkaround(craft)
    book.startWalkaround(craft, WalkaroundGiven("prepurchase", "11.0", null))
    assertTrue(seen(book.stop(craft, from, route)).earlierSays.isNotEmpty())
    assertTrue(seen(book.nothingFoundNext(craft, from, route)).notAsked.isNotEmpty())
    seen(book.again(craft))

    // another aircraft: moved there, laid out anew, then found to be the same one
    val other = book.craft("N0OTH")
    val walk = book.walk(craft, route).walkaround!!
    assertTrue(book.moveWalkaround(walk, other).contains("N0OTH"))
    assertNull(book.walk(craft, route).walkaround)
    book.chooseLayout(other, "tailwheel")
    assertEquals("tailwheel", book.aircraft().first { it.id == other }.layout)
    val before = book.aircraft().size
    book.joinAircraft(craft, other)
    assertEquals(before - 1, book.aircraft().size)
    val way = folder.resolve("shared").also { Files.createDirectory(it) }
    seen(book.exchange(way.toString(), true))
    seen(book.exchange(way.toString(), false))
    seen(book.work())
    book.backup(folder.resolve("rest-copy").toString())
    book.shut()
    book.close()

    val taker = book(folder, "taker", Author("D. Example", "mechanic"), 10, "2026-06-05T09:00:00+02:00")
    val received = seen(taker.receiveNotebook(folder.resolve("rest-copy").toString()))
    assertTrue(received.entries > 0uL)
    taker.craft("N0TKR")
    taker.shut()
    taker.close()
    // a line that was being written when the power went is said, and is no damage
    val chain = folder.resolve("taker/record").toFile().walk().filter { it.isFile }.maxBy { it.lastModified() }
    chain.setWritable(true)
    chain.appendText("{\"v\":")
    val odd = Notebook.read(folder.resolve("taker").toString())
    assertTrue("${seen(odd.settings()).notices}", odd.settings().notices.isNotEmpty())
    odd.shut()
    odd.close()
    measuring()
}

/** Scales and lines that have something to warn of. */
private fun Job.measuring() {
    val work = PhotoAtWork.open(plain(folder))
    val (w, h) = work.size().let { it.width.toDouble() to it.height.toDouble() }
    val marks = listOf(Dot(.1 * w, .1 * h), Dot(.3 * w, .1 * h), Dot(.3 * w, .4 * h), Dot(.1 * w, .4 * h))
    assertTrue(seen(work.setScale(ScaleGiven.Sheet(marks, null))).warnings.isNotEmpty())
    seen(work.draw(listOf(Dot(.8 * w, .5 * h), Dot(.95 * w, .5 * h)), false))
    assertTrue(seen(work.measure()).warnings.isNotEmpty())
    troubled<Trouble.Input> { work.outline(Dot(2.0, 2.0)) }
    seen(work.lay(plain(folder)))
    work.shut()
    work.close()
}
