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
