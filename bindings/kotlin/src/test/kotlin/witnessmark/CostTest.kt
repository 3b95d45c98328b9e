package witnessmark

import java.nio.file.Files
import org.junit.Assert.*
import org.junit.Test
import witnessmark.door.*

/** What the door costs: the same calls through it and within Rust, by turns, in one run. */
class CostTest {
    private val folder = folder()

    /** Median over rounds of (through the door / within Rust). */
    private fun ratio(rounds: Int, through: () -> Long, within: () -> Long): Double =
        (0 until rounds).map { through().toDouble() / within() }.sorted()[rounds / 2]

    private fun timed(call: () -> Unit): Long {
        val from = System.nanoTime()
        call()
        return System.nanoTime() - from
    }

    @Test
    fun viewsAndIntake() {
        val book = book(folder)
        val craft = book.craft()
        book.startWalkaround(craft, WalkaroundGiven("routine", "100", null))
        val stops = book.walk(craft, route).stops.map { it.key }
        stops.take(8).forEach { book.nothingFoundNext(craft, it, route) }
        val zones = stops.map { book.stop(craft, it, route).zones[0].code }
        // warm, so that the virtual machine has compiled what it will
        repeat(30) { for (stop in stops) book.stop(craft, stop, route) }
        repeat(30) { for (zone in zones) book.zone(craft, zone) }
        val stop = ratio(31, { timed { for (key in stops) book.stop(craft, key, route) } }) {
            book.costInRust("stop", craft, stops).toLong()
        }
        val zone = ratio(31, { timed { for (key in zones) book.zone(craft, key) } }) {
            book.costInRust("zone", craft, zones).toLong()
        }
        // three megabytes each, about what a phone's camera gives at its smallest; no two alike
        val photo = photo.readBytes()
        var n = 0
        fun files(): List<String> = (0 until 4).map {
            n += 1
            val filler = ByteArray(3_000_000).also { java.util.Random(n.toLong()).nextBytes(it) }
            val path = folder.resolve("p$n.jpg")
            Files.write(path, photo + filler)
            path.toString()
        }
        val intake = ratio(
            15,
            { files().let { all -> timed { for (path in all) book.takePhoto(Source.Path(path), place(craft)) } } },
        ) { book.costInRust("photo", craft, files()).toLong() }
        println("door: cost against Rust: stop view %.2f, zone history %.2f, photo intake %.3f".format(stop, zone, intake))
        book.shut()
        book.close()
        gone(folder)
        assertTrue("stop view $stop", stop <= 3.0)
        assertTrue("zone history $zone", zone <= 3.0)
        // at most a tenth more; the median of fifteen rounds bears one that a disk held up
        assertTrue("photo intake $intake", intake <= 1.1)
    }
}
