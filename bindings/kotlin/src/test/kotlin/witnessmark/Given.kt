package witnessmark

import java.io.File
import java.nio.file.Files
import java.nio.file.Path
import witnessmark.door.*

/** What the tests hand in. Invented data, of which the truth is known by construction. */
val top = File(System.getProperty("top"))

/** A photograph made for this project (fixtures/README.md). */
val photo: File = File(top, "fixtures/record/photo.jpg")

val owner = Author("A. Example", "owner")

val route = RouteGiven(clockwise = false, start = null, order = listOf())

fun seed(of: Int) = ByteArray(32) { of.toByte() }

fun folder(): Path = Files.createTempDirectory("door")

fun gone(folder: Path) {
    folder.toFile().deleteRecursively()
}

fun book(folder: Path, name: String = "book", by: Author = owner, key: Int = 7, at: String = "2026-05-01T09:10:00+02:00"): Notebook =
    Notebook.forTests(folder.resolve(name).toString(), by, seed(key), at, key.toULong())

fun Notebook.craft(registration: String = "N0123"): String =
    addAircraft(registration, "Invented 2", null, "low_wing_fixed", false)

fun place(aircraft: String?, stop: String? = null, zone: String? = null, finding: String? = null) =
    PlaceGiven(aircraft, stop, zone, finding, null, true)

fun measure(value: String, method: String = "ruler") =
    MeasureGiven("length", value, "in", null, method, null, null, mapOf())

fun sighting(vararg measures: MeasureGiven, result: String? = null, why: String? = null) =
    SightingGiven(result, why, null, null, measures.toList(), listOf(), null, null)

/** A picture of 640 x 480 with squares of ten pixels. */
fun plain(folder: Path): Source.Path {
    val file = folder.resolve("plain.png").toFile()
    if (!file.exists()) {
        val picture = java.awt.image.BufferedImage(640, 480, java.awt.image.BufferedImage.TYPE_3BYTE_BGR)
        for (y in 0 until 480) for (x in 0 until 640) {
            picture.setRGB(x, y, if ((x / 10 * 7 + y / 10 * 3) % 5 < 2) 0xF0F0F0 else 0x303030 + (x / 3 shl 8) % 0x4000)
        }
        javax.imageio.ImageIO.write(picture, "png", file)
    }
    return Source.Path(file.path)
}

/** A second of silence: RIFF WAVE, 16 bit, 8 kHz, one channel (from memory of the format). */
fun wav(folder: Path): Source.Path {
    val file = folder.resolve("voice.wav").toFile()
    val format = javax.sound.sampled.AudioFormat(8000f, 16, 1, true, false)
    val silence = javax.sound.sampled.AudioInputStream(ByteArray(16000).inputStream(), format, 8000)
    javax.sound.sampled.AudioSystem.write(silence, javax.sound.sampled.AudioFileFormat.Type.WAVE, file)
    return Source.Path(file.path)
}

/** The number of the descriptor behind an open file, as the system lists it. */
fun number(path: String): Int {
    val real = File(path).canonicalPath
    return File("/proc/self/fd").listFiles()!!.filter { fd ->
        try {
            Files.readSymbolicLink(fd.toPath()).toString() == real
        } catch (_: java.io.IOException) {
            false
        }
    }.maxOf { it.name.toInt() }
}

/** The call must answer with this way of trouble and three texts that say something. */
inline fun <reified T : Trouble> troubled(call: () -> Any?): T {
    val answer = try {
        call()
    } catch (trouble: Trouble) {
        if (trouble !is T) throw AssertionError("another way: $trouble", trouble)
        return trouble
    }
    throw AssertionError("no trouble but ${"$answer".take(300)}")
}
