package witnessmark.shell

import java.util.Random
import java.util.concurrent.CountDownLatch
import org.junit.Assert.assertEquals
import org.junit.Assert.assertTrue
import org.junit.Test
import org.robolectric.Shadows.shadowOf
import witnessmark.shell.work.Said

class RandomTest : ShellTest() {
    private val taps = if (System.getProperty("shell.depth") == "deep") 10_000 else 300

    /** Taps anything that can be tapped, goes back, turns the phone, dies: no crash, and every picture the camera gave is in the record. */
    @Test fun seededRandomTaps() {
        start(); tap("purpose:preflight")
        val random = Random(20260501)
        repeat(taps) { n ->
            when (random.nextInt(40)) {
                0 -> { activity.back(); settle() }
                1 -> { shell.recreate(); settle() }
                2 -> coldStart()
                else -> {
                    val open = all().filter { it.isClickable && it.isEnabled && it.isShown && it.tag is String && it !is android.widget.EditText }
                    all().filterIsInstance<android.widget.EditText>().forEach { if (random.nextInt(3) == 0) it.setText(listOf("4", "two inch crack in the left fairing", "", "N0456")[random.nextInt(4)]) }
                    if (open.isEmpty()) { activity.back(); settle() } else { open[random.nextInt(open.size)].performClick(); settle() }
                }
            }
            if (activity.isFinishing) launch()
            assertTrue("tap $n: nothing is shown", all().any { it.isClickable })
        }
        var photos = 0
        app.core.ask({ book ->
            app.taking.settle(book)
            java.io.File(app.filesDir, "notebook/evidence").walkTopDown().count { it.isFile && it.extension == "jpg" }
        }) { photos = (it as Said.Fine).value }
        settle()
        println("random taps: $taps, photos taken ${hand.pictures}, kept $photos")
        assertEquals(hand.pictures, photos)
    }

    /** With the core's thread held, every tap returns at once: the main thread is never inside the core. */
    @Test fun theMainThreadIsNeverInsideTheCore() {
        start(); tap("purpose:preflight")
        for (screen in screens.keys) {
            activity.home(witnessmark.shell.work.Where("walk", app.keep.stack().first { it["aircraft"] != null }.about.filterKeys { it == "aircraft" })); settle()
            val hold = CountDownLatch(1)
            app.core.apart({ hold.await() }) { }
            val from = System.nanoTime()
            activity.go(witnessmark.shell.work.Where(screen, app.keep.stack().last().about + mapOf("stop" to "propeller", "zone" to "110")))
            shadowOf(android.os.Looper.getMainLooper()).idle()
            val ms = (System.nanoTime() - from) / 1_000_000
            hold.countDown()
            settle()
            assertTrue("$screen held the main thread for $ms ms", ms < 2_000)
        }
    }

    @Test fun turningAndColdStartsGiveTheSameScreen() {
        start(); tap("purpose:preflight")
        for (screen in listOf("stop", "more", "left", "unplaced", "readings", "events", "papers", "handover", "settings", "again", "walk", "order", "before", "findings")) {
            activity.go(app.keep.stack().last().copy(screen = screen).with("stop" to "propeller")); settle()
            val before = texts()
            shell.recreate(); settle()
            assertEquals("$screen turned", before, texts())
            coldStart()
            assertEquals("$screen after a cold start", before, texts())
        }
    }

    @Test fun countedActions() {
        start(); tap("purpose:preflight")
        val table = LinkedHashMap<String, Pair<Int, Int>>()
        fun job(name: String, most: Int, run: () -> Unit) { hand.actions = 0; run(); table[name] = hand.actions to most }
        job("looked, nothing found, next", 1) { tap("act:nothing_found") }
        job("pass by", 1) { tap("pass") }
        job("a durable photo from the last screen", 2) { tap("act:photo"); tap("take") }
        job("a photo and the next stop", 2) { tap("act:photo"); tap("take_next") }
        job("a recording", 2) { tap("act:voice"); tap("stop") }
        job("could not be seen, and why", 2) { tap("act:not_seen"); tap(first("why:")) }
        job("a spoken finding", 3) {
            hand.hears = listOf("crack two inches on the left wheel fairing")
            tap("act:voice"); hand.heard(hand.hears!!); settle(); tap("keep")
        }
        hand.hears = null
        tap("back")
        job("place the oldest capture where it was taken", 3) { tap("more"); tap("go:unplaced"); tap(first("near:")) }
        tap("done")
        job("what is left", 2) { tap("more"); tap("go:left") }
        tap("back")
        job("read before flight", 3) { tap("more"); tap("go:before"); tap("read") }
        tap("back")
        println("actions | job")
        for ((name, n) in table) println("%7d | %s".format(n.first, name))
        for ((name, n) in table) assertTrue("$name took ${n.first}, at most ${n.second}", n.first <= n.second)
    }
}
