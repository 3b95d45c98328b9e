package witnessmark

import java.io.File
import java.io.RandomAccessFile
import java.nio.file.Files
import java.util.concurrent.CountDownLatch
import java.util.concurrent.atomic.AtomicReference
import kotlin.concurrent.thread
import org.junit.After
import org.junit.Assert.*
import org.junit.Test
import witnessmark.door.*

/** What a shell does wrong, what a machine does wrong, and what must not grow. */
class HardTest {
    private val folder = folder()

    @After
    fun nothingStaysAlive() {
        gone(folder)
        assertEquals(0uL, liveObjects())
    }

    private fun advised(where: String, todo: String) = assertTrue("$where / $todo", where.isNotEmpty() && todo.isNotEmpty())

    private fun whole(trouble: Trouble, code: String, what: String) {
        assertTrue(code, code.matches(Regex("[a-z_]+")))
        assertTrue(what, what.isNotEmpty())
        assertTrue(trouble.message!!.contains(what))
    }

    @Test
    fun everyWayOfTrouble() {
        val root = folder.resolve("book").toString()
        troubled<Trouble.NoNotebook> { Notebook.open(root, seed(7)) }.let { whole(it, it.code, it.what) }
        val book = book(folder)
        val craft = book.craft()
        troubled<Trouble.Input> { book.walk("nonsense", route) }.let {
            whole(it, it.code, it.what)
            assertEquals("aircraft", it.where)
            assertTrue(it.whatToDo.isNotEmpty())
        }
        troubled<Trouble.Busy> { Notebook.open(root, seed(7)) }.let { whole(it, it.code, it.what) }
        // a device that is always full
        RandomAccessFile("/dev/full", "rw").use {
            troubled<Trouble.NoSpace> { book.page(craft, Source.Descriptor(number("/dev/full"), "")) }
                .let { whole(it, it.code, it.what) }
        }
        val shutAway = folder.resolve("away.jpg").toFile()
        photo.copyTo(shutAway)
        shutAway.setReadable(false, false)
        // root reads it all the same; not so what the kernel itself gives to writers only
        val refused = if (shutAway.canRead()) File("/sys/bus/platform/uevent") else shutAway
        if (refused.exists()) {
            troubled<Trouble.NoPermission> { book.takePhoto(Source.Path(refused.path), place(craft)) }
                .let { whole(it, it.code, it.what) }
        } else {
            println("SKIPPED: no file here that root may not read")
        }
        // open, but for writing only
        java.io.FileOutputStream(folder.resolve("out").toFile()).use {
            troubled<Trouble.Machine> {
                book.takePhoto(Source.Descriptor(number(folder.resolve("out").toString()), "x.jpg"), place(craft))
            }.let { whole(it, it.code, it.what) }
        }
        book.shut()
        troubled<Trouble.Closed> { book.aircraft() }.let { whole(it, it.code, it.what) }
        book.close()
        val toml = File(root, "notebook.toml")
        val asWas = toml.readText()
        toml.writeText(asWas.replace(Regex("(?m)^format = \\d+"), "format = 99"))
        assertNotEquals(asWas, toml.readText())
        troubled<Trouble.Newer> { Notebook.open(root, seed(7)) }.let { whole(it, it.code, it.what) }
        toml.writeText(asWas)
        val again = Notebook.open(root, seed(7))
        val kept = again.takePhoto(Source.Path(photo.path), place(craft))
        val original = File(root, "evidence").walk().first { it.name.startsWith(kept.file!!) }
        original.setWritable(true)
        val bytes = original.readBytes()
        bytes[bytes.size / 2] = (bytes[bytes.size / 2].toInt() xor 1).toByte()
        original.writeBytes(bytes)
        troubled<Trouble.Damaged> { again.pack(craft, "review", null, false, false, folder.resolve("p.zip").toString()) }
            .let { whole(it, it.code, it.what) }
        again.shut()
        again.close()
        assertTrue(verifyFolder(root).failed)
    }

    @Test
    fun cancelInTheMiddleOfATrace() {
        // large enough that following takes a while
        val picture = java.awt.image.BufferedImage(3000, 2200, java.awt.image.BufferedImage.TYPE_3BYTE_BGR)
        val noise = java.util.Random(1)
        for (y in 0 until picture.height) for (x in 0 until picture.width) picture.setRGB(x, y, noise.nextInt())
        val path = folder.resolve("noise.png").toFile()
        javax.imageio.ImageIO.write(picture, "png", path)
        val work = PhotoAtWork.open(Source.Path(path.path))
        val outcome = AtomicReference<Any>()
        val running = thread {
            outcome.set(
                try {
                    work.trace((0..38).map { Dot(50.0 + it * 76.0, if (it % 2 == 0) 100.0 else 2100.0) })
                } catch (trouble: Trouble) {
                    trouble
                },
            )
        }
        // once, and really in the middle: some of the work is done, and not all of it
        while (running.isAlive && work.done() == 0u) Thread.sleep(1)
        val at = work.done()
        work.cancel()
        running.join(60_000)
        assertFalse("it went on", running.isAlive)
        assertTrue("cancelled at $at of 1000", at in 1u..999u)
        assertTrue("${outcome.get()}", outcome.get() is Trouble.Cancelled)
        // nothing was kept: there is no line to take back
        assertFalse(work.undo())
        work.shut()
        troubled<Trouble.Closed> { work.size() }
        work.close()
    }

    /** A check, a backup and a pack are stopped on the way: nothing half-made, and a capture goes on. */
    @Test
    fun cancelInTheMiddleOfLongWork() {
        val book = book(folder)
        val craft = book.craft()
        val filler = ByteArray(2_000_000)
        repeat(40) {
            java.util.Random(it.toLong()).nextBytes(filler)
            val file = folder.resolve("$it.jpg").toFile()
            file.writeBytes(photo.readBytes() + filler)
            book.takePhoto(Source.Path(file.path), place(craft))
        }
        val backup = folder.resolve("backup")
        val pack = folder.resolve("whole.zip")
        for (work in listOf<() -> Any>(
            { book.verify() },
            { book.backup(backup.toString()) },
            { book.pack(craft, "handing_over", null, false, false, pack.toString()) },
        )) {
            val outcome = AtomicReference<Any>()
            val running = thread { outcome.set(try { work() } catch (trouble: Trouble) { trouble }) }
            // really in the middle: some megabytes were read, and not all of them
            val before = book.work()
            while (running.isAlive && (book.work() == before || book.work().bytes < 5_000_000uL)) Thread.yield()
            val at = book.work()
            book.cancel()
            running.join(60_000)
            assertFalse("it went on", running.isAlive)
            assertTrue("cancelled at $at: ${outcome.get()}", outcome.get() is Trouble.Cancelled)
            assertTrue("$at", at.files in 1uL..200uL && at.bytes < 80_000_000uL)
        }
        val left = folder.toFile().list()!!.toList()
        assertTrue("$left", left.none { it.startsWith("backup") || it.startsWith("whole") })
        // nobody runs: the wish is for nobody, and what comes next is not held up
        book.cancel()
        book.writeNote("kept all the same", place(craft))
        assertFalse(book.verify().failed)
        book.backup(backup.toString())
        assertTrue(Files.isDirectory(backup))
        book.shut()
        book.close()
    }

    @Test
    fun closeAgainstCallAThousandTimes() {
        val root = folder.resolve("book").toString()
        val first = book(folder)
        val craft = first.craft()
        first.shut()
        first.close()
        var answered = 0
        var refused = 0
        repeat(1000) { round ->
            val book = Notebook.read(root)
            val go = CountDownLatch(1)
            val wrong = AtomicReference<Throwable>()
            val caller = thread {
                go.await()
                try {
                    book.aircraft()
                    book.walk(craft, route)
                    answered += 1
                } catch (_: Trouble.Closed) {
                    refused += 1
                } catch (_: IllegalStateException) {
                    // Kotlin's own object was released first
                    refused += 1
                } catch (other: Throwable) {
                    wrong.set(other)
                }
            }
            go.countDown()
            if (round % 3 == 0) Thread.yield()
            if (round % 2 == 0) book.shut()
            book.close()
            caller.join()
            wrong.get()?.let { throw it }
        }
        println("door: 1000 races, $answered answered, $refused refused")
        assertEquals(1000, answered + refused)
    }

    @Test
    fun aPanicComesBackAndTheNotebookStillOpens() {
        val book = book(folder)
        val craft = book.craft()
        try {
            book.failOnPurpose()
            fail("it did not fail")
        } catch (internal: InternalException) {
            assertTrue(internal.message!!, internal.message!!.contains("on purpose"))
        }
        troubled<Trouble.Closed> { book.walk(craft, route) }
        book.shut()
        book.close()
        val again = Notebook.open(folder.resolve("book").toString(), seed(7))
        assertEquals("N0123", again.walk(craft, route).registration)
        assertFalse(again.verify().failed)
        again.shut()
        again.close()
    }

    @Test
    fun badInput() {
        val book = book(folder)
        try {
            badInput(book)
            assertFalse(book.verify().failed)
        } finally {
            book.shut()
            book.close()
        }
    }

    private fun badInput(book: Notebook) {
        val craft = book.craft()
        val huge = "a".repeat(20_000_000)
        for (text in listOf("", huge, "\u0000", "../../etc/passwd")) {
            troubled<Trouble.Input> { book.walk(text, route) }
            troubled<Trouble.Input> { book.stop(craft, text, route) }
            troubled<Trouble.Input> { book.zone(craft, text) }
            troubled<Trouble.Input> { book.finding(craft, text) }
            troubled<Trouble.Input> { book.event(craft, text) }
            troubled<Trouble.Input> { book.pack(craft, text, null, false, false, folder.resolve("p").toString()) }
        }
        troubled<Trouble.Input> { book.writeNote("", place(craft)) }
        troubled<Trouble.Input> { book.writeNote(huge, place(craft)) }
        troubled<Trouble.Input> { book.hear(craft, huge, listOf(), null) }
        troubled<Trouble.Input> { Notebook.open("", seed(7)) }
        troubled<Trouble.Input> { Notebook.make("", owner, seed(7)) }
        troubled<Trouble.Input> { Notebook.read("") }
        troubled<Trouble.Input> { book.exchange("", false) }
        troubled<Trouble.Input> { book.exchangeTurn(listOf(), "") }
        troubled<Trouble.Input> { book.lookAgainZone(craft, "999", "next flight") }
        troubled<Trouble.Input> { book.handOver("") }
        troubled<Trouble.Input> { book.keep(craft, "", null) }
        troubled<Trouble.Input> { book.keep(craft, "{}", null) }
        troubled<Trouble.Input> { Notebook.open(folder.resolve("book").toString(), ByteArray(0)) }
        troubled<Trouble.Input> { Notebook.open(folder.resolve("book").toString(), ByteArray(33)) }
        troubled<Trouble.Input> { book.writeReading(craft, "oil_found", "-1", "qt", null, mapOf()) }
        for (descriptor in listOf(-1, Int.MIN_VALUE, Int.MAX_VALUE, 987_654)) {
            troubled<Trouble.Input> { book.takePhoto(Source.Descriptor(descriptor, "x.jpg"), place(craft)) }
        }
        // a stream that ends early is kept as it is, and said to have no end
        val bytes = photo.readBytes()
        val cut = folder.resolve("cut.jpg").toFile()
        cut.writeBytes(bytes.copyOf(bytes.size * 2 / 3))
        assertEquals(false, book.takePhoto(Source.Path(cut.path), place(craft)).complete)
        // the same through a pipe whose writer goes away in the middle: it has no length to be asked for
        val pipe = folder.resolve("pipe").toString()
        assertEquals(0, ProcessBuilder("mkfifo", pipe).start().waitFor())
        val writer = thread {
            java.io.FileOutputStream(pipe).use { it.write(bytes, 0, bytes.size / 3) }
        }
        java.io.FileInputStream(pipe).use {
            val kept = book.takePhoto(Source.Descriptor(number(pipe), "streamed.jpg"), place(craft))
            assertEquals(false, kept.complete)
            assertTrue("${kept.notices}", kept.notices.isNotEmpty())
        }
        writer.join()
        val none = folder.resolve("none.jpg").toFile()
        none.writeBytes(ByteArray(0))
        troubled<Trouble.Input> { book.takePhoto(Source.Path(none.path), place(craft)) }
        val work = PhotoAtWork.open(plain(folder))
        for (x in listOf(-1.0, Double.NaN, Double.NEGATIVE_INFINITY, 1e300)) {
            troubled<Trouble.Input> { work.draw(listOf(Dot(x, 1.0), Dot(2.0, 2.0)), false) }
            troubled<Trouble.Input> { work.trace(listOf(Dot(x, 1.0), Dot(2.0, 2.0))) }
            troubled<Trouble.Input> { work.outline(Dot(x, 1.0)) }
        }
        troubled<Trouble.Input> { work.setScale(ScaleGiven.Ruler(listOf(Dot(1.0, 1.0), Dot(50.0, 1.0)), Double.NaN)) }
            .let { advised(it.where, it.whatToDo) }
        troubled<Trouble.Input> { work.setScale(ScaleGiven.Ruler(listOf(Dot(Double.NaN, 1.0), Dot(50.0, 1.0)), 10.0)) }
            .let { advised(it.where, it.whatToDo) }
        troubled<Trouble.Input> { book.page(craft, Source.Path("")) }.let { advised(it.where, it.whatToDo) }
        troubled<Trouble.Input> { book.takePhoto(Source.Path(""), place(craft)) }.let { advised(it.where, it.whatToDo) }
        troubled<Trouble.Input> { work.trace(listOf()) }
        troubled<Trouble.Input> { work.carry(listOf(), listOf()) }
        troubled<Trouble.Input> { work.measure() }
        work.shut()
        work.close()
    }

    /** Resident memory and descriptors of this process stay where they were after warming up. */
    @Test
    fun capturesDoNotGrow() {
        val captures = System.getProperty("captures").toInt()
        val book = book(folder)
        val craft = book.craft()
        // three megabytes, about what a phone's camera gives at its smallest; ten thousand of those would
        // fill a disk, so the deep run takes a small one
        val filler = if (captures <= 500) ByteArray(3_000_000).also { java.util.Random(1).nextBytes(it) } else ByteArray(0)
        val file = folder.resolve("one.jpg").toFile()
        file.writeBytes(photo.readBytes() + filler + ByteArray(8))
        fun resident() = File("/proc/self/status").readLines().first { it.startsWith("VmRSS") }
            .filter { it.isDigit() }.toLong()
        fun descriptors() = File("/proc/self/fd").list()!!.size
        fun capture(n: Int) {
            // another file each time: the last bytes differ, after the picture's end
            RandomAccessFile(file, "rw").use { it.seek(file.length() - 8); it.write("%08d".format(n).toByteArray()) }
            book.takePhoto(Source.Path(file.path), place(craft))
        }
        val warm = captures / 5
        repeat(warm) { capture(it) }
        System.gc()
        val (kib, open) = resident() to descriptors()
        val from = System.nanoTime()
        repeat(captures - warm) { capture(warm + it) }
        val each = (System.nanoTime() - from) / 1e6 / (captures - warm)
        System.gc()
        val grown = resident() - kib
        println("door: $captures captures, %.1f ms each, resident %+d KiB, descriptors %+d".format(each, grown, descriptors() - open))
        // a copy of each photo would be far more; the state of the aircraft itself grows with its entries
        assertTrue("grown by $grown KiB", grown < 16 * 1024 + 4L * captures)
        assertTrue(descriptors() <= open + 2)
        book.shut()
        book.close()
    }
}
