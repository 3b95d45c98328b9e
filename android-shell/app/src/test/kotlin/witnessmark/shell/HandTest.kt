package witnessmark.shell

import android.content.Intent
import android.net.Uri
import android.view.MotionEvent
import android.widget.EditText
import android.widget.TextView
import java.io.File
import org.junit.Assert.assertEquals
import org.junit.Assert.assertFalse
import org.junit.Assert.assertNotNull
import org.junit.Assert.assertNull
import org.junit.Assert.assertTrue
import org.junit.Test
import org.robolectric.Robolectric
import org.robolectric.Shadows.shadowOf
import witnessmark.door.Dot
import witnessmark.door.FindingGiven
import witnessmark.door.Notebook
import witnessmark.shell.files.OwnFiles
import witnessmark.shell.finding.sighting
import witnessmark.shell.measure.MarksView
import witnessmark.shell.work.Said
import witnessmark.shell.work.Where

/** What goes wrong under a thumb: things typed and not kept, a tap too many, files nobody can use. The truth of each check is the invented data's own. */
class HandTest : ShellTest() {
    private fun <T> core(call: (Notebook) -> T): T {
        var value: T? = null
        app.core.ask(call) { assertTrue("$it", it is Said.Fine); value = (it as Said.Fine).value }
        settle()
        return value!!
    }
    private fun craft() = core { it.aircraft() }.first { it.registration == "N0123" }.id
    private fun at(screen: String, vararg more: Pair<String, String>) = Where(screen, mapOf("aircraft" to craft()) + more)
    private fun go(screen: String, vararg more: Pair<String, String>) { activity.go(at(screen, *more)); settle() }
    private fun finding(condition: String = "crack"): String = craft().let { id -> core { it.openFinding(id, FindingGiven("110", condition, "bolt", emptyList()), sighting(null)) } }
    private fun zoneOf(finding: String) = craft().let { id -> core { it.finding(id, finding) }.line.zone }
    private fun said() = (find("said") as TextView).text.toString()
    private fun text(tag: String) = (find(tag) as EditText).text.toString()

    @Test fun whatIsTypedSurvivesTurningAndAKill() {
        start(); tap("purpose:preflight")
        go("write"); type("note", "rivet smoking at the strut")
        shell.recreate(); settle()
        assertEquals("rivet smoking at the strut", text("note"))
        coldStart()
        assertEquals("rivet smoking at the strut", text("note"))
        tap("keep")
        assertEquals("rivet smoking at the strut", core { it.unplaced(craft2()) }.captures.single().text)
        go("write")
        assertEquals("kept words do not come back", "", text("note"))
    }
    private fun craft2() = hand.books.book!!.aircraft().first().id

    @Test fun theFirstStartSurvivesTurning() {
        launch()
        type("name", "A. Example"); tap("on")
        shell.recreate(); settle()
        assertNotNull("the second question is still there", find("choice:owner"))
        coldStart()
        tap("choice:owner")
        type("registration", "N0123"); type("type", "Invented 2")
        shell.recreate(); settle()
        assertEquals("N0123", text("registration"))
        tap("choice:low_wing_fixed")
        sees("N0123")
    }

    @Test fun aRefusalLeavesThePageAndTheWords() {
        start()
        go("add"); type("registration", ""); type("type", "Invented 2")
        tap("choice:low_wing_fixed")
        assertTrue(said().isNotEmpty())
        assertEquals("Invented 2", text("type"))
    }

    @Test fun itCouldNotBeCheckedAndWhy() {
        start(); tap("purpose:preflight")
        val id = finding()
        go("finding", "finding" to id); tap("sight"); tap("could_not"); tap("why:too dark")
        val story = craft().let { aircraft -> core { it.finding(aircraft, id) }.story }
        assertEquals("could_not_check", story.last().kind)
        assertTrue(story.last().says, "too dark" in story.last().says)
    }

    @Test fun somethingWasDoneNeedsWords() {
        start(); tap("purpose:preflight")
        val id = finding()
        go("done", "finding" to id); tap("treated")
        assertEquals(activity.getString(R.string.say_what_was_done), said())
        tap("how:tightened"); tap("treated")
        assertTrue(craft().let { aircraft -> core { it.finding(aircraft, id) }.story }.any { it.kind == "step" })
    }

    private fun touch(marks: MarksView, x: Double, y: Double, toX: Double = x, toY: Double = y) {
        val from = marks.toView(Dot(x, y)); val to = marks.toView(Dot(toX, toY))
        marks.dispatchTouchEvent(MotionEvent.obtain(0, 0, MotionEvent.ACTION_DOWN, from[0], from[1], 0))
        if (x != toX || y != toY) marks.dispatchTouchEvent(MotionEvent.obtain(0, 0, MotionEvent.ACTION_MOVE, to[0], to[1], 0))
        marks.dispatchTouchEvent(MotionEvent.obtain(0, 0, MotionEvent.ACTION_UP, to[0], to[1], 0))
        settle()
    }
    private fun millimetres() = Regex("""([\d.]+) mm""").find(texts().first { it.contains("mm") && it.contains("±") })!!.groupValues[1].toDouble()

    @Test fun aCornerIsPutRightAndTheMeasureGoesToANewFinding() {
        start(); tap("purpose:before_maintenance")
        tap("act:measure"); tap("take")
        val marks = find("marks") as MarksView
        touch(marks, 100.0, 100.0)
        tap("undo")
        assertTrue("one tap too many is only a mark", marks.dots.isEmpty())
        // the second corner 60 px out, then put right after the fourth
        touch(marks, 100.0, 100.0); touch(marks, 588.0, 100.0); touch(marks, 528.0, 370.0); touch(marks, 100.0, 370.0)
        touch(marks, 588.0, 100.0, 528.0, 100.0)
        touch(marks, 200.0, 480.0); touch(marks, 450.0, 480.0)
        // 250 px of 428 px for 85.60 mm: 50.0 mm, by construction of the picture
        assertEquals(50.0, millimetres(), 0.7)
        tap("keep"); tap("new"); tap(first("zone:")); tap("condition:crack")
        val line = craft().let { id -> core { it.findings(id) }.single() }
        val story = core { it.finding(craft2(), line.id) }
        assertEquals("the measure came along", 50.0, story.story.single().value!!, 0.7)
        assertEquals("and its photo", 1, story.photos.size)
        assertTrue("with the line that was measured", story.photos.single().line.size >= 4)
    }

    @Test fun oneFileThatNobodyCanUseHoldsUpNothing() {
        start(); tap("purpose:preflight")
        val job = app.taking.begin("photo", null, null, taken = false, name = "list.txt")
        job.file.writeText("no picture at all")
        tap("act:photo"); tap("take")
        assertEquals("the photo is kept", 1, core { it.unplaced(craft2()) }.captures.count { it.kind == "photo" && it.path!!.endsWith(".jpg") })
        assertTrue(app.taking.open().isEmpty())
        val aside = File(app.filesDir, "aside").listFiles().orEmpty()
        assertTrue("nothing is thrown away", aside.any { it.readText() == "no picture at all" } || core { it.unplaced(craft2()) }.captures.size == 2)
    }

    private fun sharing(name: String): Intent {
        val from = File(OwnFiles.folder(app, OwnFiles.OUT), name).also { hand.picture(it) }
        return Intent(Intent.ACTION_SEND).setType("image/jpeg").putExtra(Intent.EXTRA_STREAM, OwnFiles.uri(OwnFiles.OUT, from.name))
    }

    @Test fun aPhotoSharedBeforeTheFirstStartIsKept() {
        shell = Robolectric.buildActivity(ShellActivity::class.java, sharing("IMG_0042.jpg")).setup(); settle()
        assertEquals(1, app.taking.open().size)
        type("name", "A. Example"); tap("on"); coldStart()
        tap("choice:owner"); type("registration", "N0123"); type("type", "Invented 2"); tap("choice:low_wing_fixed")
        assertTrue(app.taking.open().isEmpty())
        val kept = core { it.unplaced(it.aircraft().first().id) }.captures.single()
        assertTrue("with the name it came with: ${kept.says}", "IMG_0042.jpg" in kept.says || core { it.unplaced(craft2()) }.captures.single().says.isNotEmpty())
        assertTrue(File(app.filesDir, "notebook").walkTopDown().filter { it.isFile && it.extension in listOf("jsonl", "lines", "txt", "ndjson", "json") || "record" in it.path && it.isFile }.any { "IMG_0042.jpg" in it.readText() })
    }

    @Test fun spokenCommandsDoWhatTheyName() {
        start(); tap("purpose:preflight")
        fun stop() = app.keep.stack().last { it.screen == "stop" }["stop"]!!
        val before = stop()
        fun speak(words: String) { hand.hears = listOf(words); tap("act:voice"); hand.heard(hand.hears!!); settle(); tap("command") }
        tap("act:nothing_found"); assertTrue(stop() != before)
        val second = stop()
        speak("next")
        assertTrue("next goes on from $second", stop() != second && stop() != before)
        speak("undo")
        assertTrue(said().isNotEmpty())
    }

    @Test fun papersInABurstAreOneTapAPage() {
        start(); tap("purpose:prebuy")
        go("papers"); tap("paper:log_page")
        hand.actions = 0
        repeat(3) { tap("take") }
        assertEquals(3, hand.actions)
        tap("back"); tap("back")
        val papers = core { it.unplaced(craft2()) }.captures
        val record = File(app.filesDir, "notebook").walkTopDown().filter { it.isFile && it.length() < 1_000_000 && "evidence" !in it.path }.sumOf { Regex("\"log_page\"").findAll(it.readText()).count() }
        assertEquals("three pages with their kind, ${papers.size} waiting", 3, record)
    }

    @Test fun aReadingHasItsPlaceAndItsAnswers() {
        start(); tap("purpose:preflight")
        go("reading", "kind" to "pressure")
        type("value", "38"); tap("keep")
        assertEquals("which tire is asked first", activity.getString(R.string.where_read), said())
        tap(first("place:")); tap("ask:temperature:cold")
        assertEquals("38", text("value"))
        tap("keep")
        assertTrue(core { it.readings(craft2()) }.values.single().contains("38 psi"))
        go("reading", "kind" to "fuel_sample"); tap("value:clear"); tap("keep")
        assertTrue(core { it.readings(craft2()) }.values.any { "clear" in it })
    }

    @Test fun wordsComeLaterToARecording() {
        start(); tap("purpose:preflight")
        tap("act:voice"); tap("stop")
        go("unplaced"); tap("words"); type("note", "nick in the blade"); tap("keep")
        assertEquals("nick in the blade", core { it.unplaced(craft2()) }.captures.single().text)
    }

    @Test fun takingInABackupNeedsOne() {
        start()
        val empty = File(app.cacheDir, "empty").apply { mkdirs() }
        go("settings"); tap("restore")
        assertNotNull("the picker, and no backup made meanwhile", shadowOf(activity).nextStartedActivityForResult)
        assertNull(app.keep.backupAt)
        app.keep.backupFolder = empty.path
        tap("restore")
        assertTrue(said(), activity.getString(R.string.no_backup_there) in said())
        assertFalse(empty.walkTopDown().any { it.isFile })
        tap("backup"); tap("restore")
        assertFalse(core { it.verify() }.failed)
    }

    @Test fun positionIsOffUntilSomebodyWantsIt() {
        start(); tap("purpose:preflight")
        tap("act:photo")
        assertNull(hand.where()); assertEquals(0, hand.positions)
        tap("back")
        go("settings"); tap("position")
        assertFalse(app.keep.position)
        activity.onRequestPermissionsResult(90, arrayOf(android.Manifest.permission.ACCESS_FINE_LOCATION), intArrayOf(-1)); settle()
        assertEquals(activity.getString(R.string.position_refused), said())
        shadowOf(app).grantPermissions(android.Manifest.permission.ACCESS_FINE_LOCATION)
        tap("position"); tap("back")
        tap("act:photo")
        assertEquals(50.5, hand.where()!!.latitude, 0.0); assertEquals(1, hand.positions)
        tap("back")
        assertEquals("off again with the camera", 0, hand.positions)
    }

    @Test fun somethingKnownIsAskedForByItself() {
        start(); tap("purpose:preflight")
        val id = finding()
        val stop = craft().let { aircraft -> core { book -> book.walk(aircraft, app.keep.route(aircraft)).stops.first { s -> book.stop(aircraft, s.key, app.keep.route(aircraft)).zones.any { it.code == zoneOfNow(id) } }.key } }
        core { it.finishWalkaround(craft2()); it.startWalkaround(craft2(), witnessmark.door.WalkaroundGiven("preflight", null, null)) }
        go("stop", "stop" to stop); tap("act:nothing_found")
        sees(activity.getString(R.string.still_there))
        tap("on")
        assertNotNull("then the next stop", find("act:nothing_found"))
    }
    private fun zoneOfNow(finding: String) = hand.books.book!!.finding(craft2(), finding).line.zone

    @Test fun oneFindingAloneAndWithoutNames() {
        start(); tap("purpose:preflight")
        val id = finding()
        go("finding", "finding" to id); tap("handover"); tap("people"); tap("cut:finding")
        assertNotNull(shadowOf(activity).nextStartedActivityForResult)
        val zip = File(OwnFiles.folder(app, OwnFiles.OUT), "witnessmark-finding.zip").readBytes().toString(Charsets.ISO_8859_1)
        assertFalse("no name in it", "A. Example" in zip)
    }

    @Test fun theHeadOfASoundFileIsReadByOthers() {
        val file = File(app.cacheDir, "s.wav").apply { writeBytes(witnessmark.shell.hardware.WavRecorder.head(3200) + ByteArray(3200)) }
        val read = javax.sound.sampled.AudioSystem.getAudioFileFormat(file)
        assertEquals("javax.sound is the reference", 16_000f, read.format.sampleRate)
        assertEquals(16, read.format.sampleSizeInBits); assertEquals(1, read.format.channels); assertEquals(1600, read.frameLength)
    }
}
