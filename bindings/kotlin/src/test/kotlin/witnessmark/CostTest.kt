package witnessmark

import java.nio.file.Files
import org.junit.Assert.*
import org.junit.Test
import witnessmark.door.*

/** What the door costs: the same calls through it and within Rust, by turns, in one run, by processor time. */
class CostTest {
    private val folder = folder()

    /** Median over rounds of (through the door / within Rust). */
    private fun ratio(rounds: Int, through: () -> Long, within: () -> Long): Double =
        (0 until rounds).map { through().toDouble() / within() }.sorted()[rounds / 2]

    private val threads = java.lang.management.ManagementFactory.getThreadMXBean()

    /**
     * Processor time of this thread, of which both ways take their share in it: what other programs do
     * meanwhile, and how long the disk lets wait, is nobody's cost here.
     */
    private fun cpu(call: () -> Unit): Long {
        val from = threads.currentThreadCpuTime
        call()
        return threads.currentThreadCpuTime - from
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
        val stop = ratio(31, { cpu { for (key in stops) book.stop(craft, key, route) } }) {
            cpu { book.costInRust("stop", craft, stops) }
        }
        val zone = ratio(31, { cpu { for (key in zones) book.zone(craft, key) } }) {
            cpu { book.costInRust("zone", craft, zones) }
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
            { files().let { all -> cpu { for (path in all) book.takePhoto(Source.Path(path), place(craft)) } } },
        ) { files().let { all -> cpu { book.costInRust("photo", craft, all) } } }
        println("door: processor time against Rust: stop view %.2f, zone history %.2f, photo intake %.3f".format(stop, zone, intake))
        book.shut()
        book.close()
        gone(folder)
        assertTrue("stop view $stop", stop <= 3.0)
        assertTrue("zone history $zone", zone <= 3.0)
        // at most a tenth more: a copy of the bytes or a second reading would be far beyond
        assertTrue("photo intake $intake", intake <= 1.1)
    }
}
