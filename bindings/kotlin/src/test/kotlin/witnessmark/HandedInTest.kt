package witnessmark

import org.junit.After
import org.junit.Assert.*
import org.junit.Test
import witnessmark.door.*

/** Every field that a shell hands in arrives: it is seen in what comes back. */
class HandedInTest {
    private val folder = folder()
    private val book = book(folder)
    private val craft = book.craft()

    @After
    fun close() {
        book.shut()
        book.close()
        gone(folder)
        assertEquals(0uL, liveObjects())
    }

    @Test
    fun author() {
        val settings = book.settings()
        assertEquals("A. Example" to "owner", settings.name to settings.role)
    }

    @Test
    fun route() {
        val plain = book.walk(craft, route).stops.map { it.key }
        val start = plain[3]
        assertEquals(start, book.walk(craft, RouteGiven(false, start, listOf())).stops[0].key)
        val other = book.walk(craft, RouteGiven(true, null, listOf())).stops.map { it.key }
        assertNotEquals(plain, other)
        assertEquals(plain.toSet(), other.toSet())
        assertEquals(plain.reversed(), book.walk(craft, RouteGiven(false, null, plain.reversed())).stops.map { it.key })
    }

    @Test
    fun walkaround() {
        book.startWalkaround(craft, WalkaroundGiven("postflight", "88.5", "12"))
        assertEquals("postflight", book.walk(craft, route).purpose)
        val zone = book.stop(craft, book.walk(craft, route).nextStop!!, route).zones[0].code
        book.look(craft, LookGiven(listOf(zone), null, "touched", null, mapOf()))
        assertTrue(book.zone(craft, zone).looks[0].hours!!.contains("88.5"))
    }

    @Test
    fun lookFindingSightingMeasure() {
        book.startWalkaround(craft, WalkaroundGiven(null, null, null))
        val zone = book.stop(craft, book.walk(craft, route).nextStop!!, route).zones[0].code
        val finding = book.openFinding(
            craft,
            FindingGiven(zone, "crack", "at the third screw", listOf("crack or scratch")),
            SightingGiven(
                null, null, "measured", null,
                listOf(MeasureGiven("length", "2 1/4", "in", "0.05", "ruler", null, null, mapOf())),
                listOf(), "hairline", "2026-04-02",
            ),
        )
        val screen = book.finding(craft, finding)
        assertEquals(zone, screen.line.zone)
        assertEquals("at the third screw", screen.part)
        assertEquals(listOf("crack or scratch"), screen.unsure)
        assertEquals("2026-04-02", screen.story[0].date)
        assertEquals(2.25 to 0.05, screen.story[0].value to screen.story[0].u)
        assertEquals("in", screen.story[0].unit)
        assertTrue(screen.story[0].says, screen.story[0].says.contains("hairline"))
        book.look(craft, LookGiven(listOf(zone), null, null, null, mapOf(finding to "could_not_check")))
        assertEquals("could_not_check", book.finding(craft, finding).story.last().kind)
        val note = book.writeNote("beside it", place(craft, zone = zone))
        assertEquals(zone, note.zone)
        assertTrue(book.zone(craft, zone).captures.any { it.entry == note.entry })
        val unseen = book.stop(craft, book.walk(craft, route).stops[4].key, route).zones[0].code
        book.look(craft, LookGiven(listOf(unseen), "covered in snow", null, "cover", mapOf()))
        val says = book.zone(craft, unseen).looks.last()
        assertEquals("not_seen", says.look)
        assertTrue(says.says, says.says.contains("snow"))
    }

    @Test
    fun looseCapture() {
        val loose = book.writeNote("where was that", place(null))
        assertTrue(book.unplaced(craft).captures.any { it.entry == loose.entry && it.loose })
        book.place(loose.entry, place(craft, zone = book.stop(craft, book.walk(craft, route).nextStop!!, route).zones[0].code))
        assertTrue(book.unplaced(craft).captures.none { it.entry == loose.entry })
    }

    /** What no screen shows stands in the record: the lines are JSON that anybody can read. */
    private fun lines(): String = java.io.File(folder.toFile(), "book/record").walk().filter { it.isFile }.joinToString("\n") { it.readText() }

    @Test
    fun whatOnlyTheRecordShows() {
        book.startWalkaround(craft, WalkaroundGiven("routine", null, "4711"))
        assertTrue("landings", "\"4711\"" in lines() || "4711" in lines())
        val key = book.walk(craft, route).nextStop!!
        val zone = book.stop(craft, key, route).zones[0].code
        book.look(craft, LookGiven(listOf(zone), null, "touched", "inspection panel", mapOf()))
        assertTrue("how", "\"touched\"" in lines())
        assertTrue("access", "\"inspection panel\"" in lines())

        val view = book.stop(craft, key, route).views.firstOrNull()?.key ?: "left_front"
        val seenHere = book.takePhoto(Source.Path(photo.path), PlaceGiven(craft, key, zone, null, view, true))
        val before = lines()
        assertTrue("view", "\"$view\"" in before && "\"$key\"" in before)
        // not taken on this walk: the stop where the phone lies now says nothing of it
        val elsewhere = java.nio.file.Files.write(folder.resolve("old.png"), java.io.File(plain(folder).path).readBytes()).toString()
        val brought = book.takePhoto(Source.Path(elsewhere), PlaceGiven(craft, null, null, null, null, false))
        assertNotEquals(seenHere.entry, brought.entry)
        assertNotEquals("taken", routeOf(seenHere.file!!), routeOf(brought.file!!))

        val evidence = book.writeNote("as told on the ramp", place(craft, zone = zone))
        val work = PhotoAtWork.open(plain(folder))
        val (w, h) = work.size().let { it.width.toDouble() to it.height.toDouble() }
        work.setScale(ScaleGiven.Ruler(listOf(Dot(.1 * w, .9 * h), Dot(.9 * w, .9 * h)), 100.0))
        work.draw(listOf(Dot(.1 * w, .5 * h), Dot(.5 * w, .5 * h)), false)
        val drawn = work.measure().measure
        work.shut()
        work.close()
        val finding = book.openFinding(
            craft, FindingGiven(zone, "crack", null, listOf()),
            SightingGiven("present", null, "told", null, listOf(drawn.copy(photo = seenHere.entry, context = mapOf("light" to "torch from the side"))), listOf(evidence.entry, seenHere.entry), null, null),
        )
        val now = lines()
        assertTrue("basis", "\"told\"" in now)
        assertTrue("evidence", evidence.entry in now)
        assertTrue("context", "torch from the side" in now)
        assertTrue("marks", "\"picture\":[640,480]" in now)
        val shown = book.finding(craft, finding).photos.single()
        assertEquals("the line that was drawn, to a sixteenth of a pixel", listOf(64.0, 240.0, 320.0, 240.0), shown.line)
        assertFalse(shown.closed)

        val leak = book.openFinding(craft, FindingGiven(zone, "fluid_leak", null, listOf()), sighting())
        val step = book.finding(craft, leak).steps.last().key
        book.sight(craft, leak, SightingGiven("present", null, null, step, listOf(), listOf(), null, null))
        assertTrue("step", "\"$step\"" in lines())
        book.sight(craft, leak, SightingGiven("could_not_check", "a cowl that nobody opened", null, null, listOf(), listOf(), null, null))
        assertTrue("result and why", "a cowl that nobody opened" in lines() && "\"could_not_check\"" in lines())
    }

    /** How a file came in, as its line says it. */
    private fun routeOf(file: String): String = Regex("\"route\":\"([a-z_]+)\"|\"taken\":(true|false)").find(lines().lines().last { file in it })?.value ?: "said nothing"

    @Test
    fun whatLiesInAPickedFolder() {
        // the name and size of what is there decide what has to be copied
        val way = java.nio.file.Files.createDirectory(folder.resolve("way")).toString()
        val puts = book.exchangeTurn(listOf(), way).steps.filter { !it.get }
        assertTrue(puts.isNotEmpty())
        val there = puts.map { FileGiven(it.name, java.io.File(it.path).length().toULong()) }
        assertTrue(book.exchangeTurn(there, way).steps.none { !it.get })
    }

    @Test
    fun notesByDescriptorAndSheetScale() {
        val file = java.io.RandomAccessFile(photo, "r")
        file.use {
            val kept = book.takePhoto(Source.Descriptor(number(photo.path), "ramp.jpg"), place(craft))
            assertEquals("image/jpeg", kept.media)
        }
        val work = PhotoAtWork.open(plain(folder))
        val (w, h) = work.size().let { it.width.toDouble() to it.height.toDouble() }
        val corners = listOf(Dot(.1 * w, .1 * h), Dot(.9 * w, .1 * h), Dot(.9 * w, .9 * h), Dot(.1 * w, .9 * h))
        work.setScale(ScaleGiven.Card(corners))
        work.setScale(ScaleGiven.Sheet(corners, 100.0))
        troubled<Trouble.Input> { work.setScale(ScaleGiven.Card(corners.take(3))) }
        assertTrue(work.undo())
        work.shut()
        work.close()
    }
}
