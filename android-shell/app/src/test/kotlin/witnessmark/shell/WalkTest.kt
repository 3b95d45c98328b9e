package witnessmark.shell

import android.app.Activity
import android.content.Intent
import android.provider.MediaStore
import android.view.KeyEvent
import android.view.MotionEvent
import android.view.View
import java.io.File
import org.junit.Assert.assertEquals
import org.junit.Assert.assertFalse
import org.junit.Assert.assertNotNull
import org.junit.Assert.assertNull
import org.junit.Assert.assertTrue
import org.junit.Test
import org.robolectric.Shadows.shadowOf
import witnessmark.door.RouteGiven

/** The walk by clicks alone, the real core inside. The truth of each check is the invented data's own. */
class WalkTest : ShellTest() {
    private val route = RouteGiven(false, null, emptyList())
    private fun <T> core(call: (witnessmark.door.Notebook) -> T): T {
        var value: T? = null
        app.core.ask(call) { assertTrue("$it", it is witnessmark.shell.work.Said.Fine); value = (it as witnessmark.shell.work.Said.Fine).value }
        settle()
        return value!!
    }
    /** Also from inside a call of the core, where the thread that owns it is already ours. */
    private fun craft(registration: String = "N0123"): String {
        val here = android.os.Looper.myLooper() != android.os.Looper.getMainLooper()
        return (if (here) hand.books.book!!.aircraft() else core { it.aircraft() }).first { it.registration == registration }.id
    }

    @Test fun threeQuestionsThenTheRoute() {
        launch()
        assertEquals(1, tags().count { it == "name" })
        type("name", "A. Example"); tap("on")
        tap("choice:owner")
        type("registration", "N0123"); type("type", "Invented 2")
        tap("choice:low_wing_fixed")
        assertEquals("three answers, a word each but the last, three taps", 3, hand.actions)
        sees("N0123")
        assertEquals("N0123", core { it.aircraft() }.single().registration)
    }

    @Test fun theWholeWalk() {
        start()
        tap("purpose:preflight")
        // looked, nothing found, next: one action, written, and the next stop is there
        val first = texts().first { it.contains("Stop ") }
        hand.actions = 0
        tap("act:nothing_found")
        assertEquals(1, hand.actions)
        assertTrue(texts().none { it == first })
        assertEquals(1u, core { it.walk(craft(), route) }.stops.count { it.looked == it.zones && it.zones > 0u }.toUInt())
        // passed by stays not looked at
        val left = core { it.left(craft(), route) }.zones
        tap("pass")
        assertEquals(left, core { it.left(craft(), route) }.zones)
        // a photo is durable after two actions, and nothing was asked
        hand.actions = 0
        tap("act:photo"); tap("take")
        assertEquals(2, hand.actions)
        assertEquals(1, core { it.unplaced(craft()) }.captures.size)
        sees("Photo saved")
        // spoken, read back, answered, kept
        hand.hears = listOf("crack two inches on the left wheel fairing")
        tap("act:voice")
        sees(activity.getString(R.string.recording_now))
        assertTrue("the core's vocabulary biases the recogniser", hand.recogniser.phrases.isNotEmpty())
        hand.heard(hand.hears!!); settle()
        sees("crack")
        assertEquals(1, hand.spoken.size)
        tap("keep")
        val finding = core { it.findings(craft()) }.single()
        sees(finding.title)
        // placed on the finding
        tap("back")
        tap("more"); tap("go:unplaced")
        assertTrue(tags().any { it.startsWith("near:") })
        tap("other"); tap("finding:${finding.id}")
        assertEquals(1, core { it.finding(craft(), finding.id) }.photos.size)
        // seen again a month later, an inch longer
        hand.books.book!!.setClock("2026-06-03T09:00:00+02:00")
        core { it.finishWalkaround(craft()); it.startWalkaround(craft(), witnessmark.door.WalkaroundGiven("preflight", null, null)) }
        while (find("more") == null) tap("done")
        tap("more"); tap("go:findings"); tap("finding:${finding.short}")
        tap("sight"); type("value", "4")
        val inches = core { it.finding(craft(), finding.id) }.quantities.first().units.indexOf("in")
        repeat(inches) { tap("unit") }
        tap("keep")
        assertEquals("worse", core { it.findings(craft()) }.single().change)
        assertNotNull(find("sight"))
    }

    @Test fun aWalkOfTheWrongAircraftIsPutRight() {
        start()
        core { it.addAircraft("N0456", "Invented 2", null, "low_wing_fixed", false) }
        tap("purpose:preflight")
        tap("act:nothing_found")
        activity.back(); settle()
        tap("wrong")
        hand.actions = 0
        tap("aircraft:N0456")
        assertEquals(1, hand.actions)
        assertNull(core { it.walk(craft("N0123"), route) }.walkaround)
        assertNotNull(core { it.walk(craft("N0456"), route) }.walkaround)
    }

    @Test fun keysTakeThePhotoAndMoveOn() {
        start(); tap("purpose:preflight")
        val before = texts().first { it.contains("Stop ") }
        assertTrue(activity.onKeyDown(KeyEvent.KEYCODE_HEADSETHOOK, KeyEvent(KeyEvent.ACTION_DOWN, KeyEvent.KEYCODE_HEADSETHOOK))); settle()
        assertTrue(activity.onKeyDown(KeyEvent.KEYCODE_VOLUME_DOWN, KeyEvent(KeyEvent.ACTION_DOWN, KeyEvent.KEYCODE_VOLUME_DOWN))); settle()
        assertEquals(1, core { it.unplaced(craft()) }.captures.size)
        assertTrue("the next stop is shown", texts().first { it.contains("Stop ") } != before)
    }

    @Test fun theProcessDiesWithTheCameraOpen() {
        start(); tap("purpose:preflight")
        app.keep.systemCamera = true
        tap("act:photo")
        val asked = shadowOf(activity).nextStartedActivityForResult.intent
        assertEquals(MediaStore.ACTION_IMAGE_CAPTURE, asked.action)
        val uri = asked.getParcelableExtra<android.net.Uri>(MediaStore.EXTRA_OUTPUT)!!
        assertTrue("nothing but a grant for one name", asked.flags and Intent.FLAG_GRANT_WRITE_URI_PERMISSION != 0)
        // the camera writes through our own provider; then the process is gone, and nobody gets an answer
        val job = app.taking.open().single()
        val taken = File(app.cacheDir, "taken.jpg").also { hand.picture(it) }
        app.contentResolver.openOutputStream(uri, "w")!!.use { it.write(taken.readBytes()) }
        assertEquals(taken.length(), job.file.length())
        coldStart()
        val kept = core { it.unplaced(craft()) }.captures.single()
        assertTrue("the bytes are untouched", File(kept.path!!).readBytes().contentEquals(taken.readBytes()))
        assertTrue("the stop is known", kept.near.isNotEmpty())
        assertTrue(app.taking.open().isEmpty())
    }

    @Test fun aCancelledCameraLeavesNothing() {
        start(); tap("purpose:preflight")
        app.keep.systemCamera = true
        tap("act:photo")
        val asked = shadowOf(activity).nextStartedActivityForResult
        shadowOf(activity).receiveResult(asked.intent, Activity.RESULT_CANCELED, null); settle()
        sees(activity.getString(R.string.camera_cancelled))
        assertTrue(core { it.unplaced(craft()) }.captures.isEmpty())
        assertTrue(app.taking.open().isEmpty())
    }

    @Test fun aRefusedCameraAndMicrophoneLoseNothingElse() {
        start(); tap("purpose:preflight")
        shadowOf(app).denyPermissions(android.Manifest.permission.CAMERA, android.Manifest.permission.RECORD_AUDIO)
        tap("act:photo")
        activity.onRequestPermissionsResult(90, arrayOf(android.Manifest.permission.CAMERA), intArrayOf(-1)); settle()
        sees(activity.getString(R.string.camera_refused))
        tap("back")
        tap("act:voice")
        activity.onRequestPermissionsResult(90, arrayOf(android.Manifest.permission.RECORD_AUDIO), intArrayOf(-1)); settle()
        sees(activity.getString(R.string.voice_refused))
        tap("write"); type("note", "nick in the spinner"); tap("keep")
        assertEquals("nick in the spinner", core { it.unplaced(craft()) }.captures.single().text)
    }

    @Test fun withoutARecogniserTheSoundIsKept() {
        start(); tap("purpose:preflight")
        tap("act:voice")
        sees(activity.getString(R.string.no_recogniser))
        tap("stop")
        assertEquals("voice", core { it.unplaced(craft()) }.captures.single().kind)
        tap("more"); tap("go:unplaced"); tap("remove")
        assertTrue(core { it.unplaced(craft()) }.captures.none { it.path != null })
    }

    @Test fun aKillWhileRecordingKeepsWhatWasRecorded() {
        start(); tap("purpose:preflight")
        tap("act:voice")
        // no pause, no stop: the process is gone
        val app = app
        app.core.shut { }; settle()
        shell = org.robolectric.Robolectric.buildActivity(ShellActivity::class.java).setup(); settle()
        assertEquals("voice", core { it.unplaced(craft()) }.captures.single().kind)
    }

    @Test fun aDamagedNotebookOpensForReading() {
        start(); tap("purpose:preflight"); tap("act:nothing_found")
        shell.destroy(); die()
        hand.books.damaged = witnessmark.door.Trouble.Damaged("damaged", "line 2 is not what was signed", "record", "")
        launch()
        sees(activity.getString(R.string.trouble_damaged))
        sees(activity.getString(R.string.trouble_damaged_help))
        tap("settings")
        sees(activity.getString(R.string.read_only))
    }

    @Test fun marksMeasureThePhoto() {
        start(); tap("purpose:before_maintenance")
        tap("act:measure"); tap("take")
        val marks = find("marks") as witnessmark.shell.measure.MarksView
        fun touch(x: Double, y: Double) {
            val at = marks.toView(witnessmark.door.Dot(x, y))
            for (action in listOf(MotionEvent.ACTION_DOWN, MotionEvent.ACTION_UP)) marks.dispatchTouchEvent(MotionEvent.obtain(0, 0, action, at[0], at[1], 0))
            settle()
        }
        touch(100.0, 100.0); touch(528.0, 100.0); touch(528.0, 370.0); touch(100.0, 370.0)
        touch(200.0, 480.0); touch(450.0, 480.0)
        assertNotNull("measured: ${texts()}", find("keep"))
        // 250 px of 428 px for 85.60 mm: 50.0 mm, by construction of the picture
        val says = texts().first { it.contains("mm") && it.contains("±") }
        val value = Regex("""([\d.]+) mm""").find(says)!!.groupValues[1].toDouble()
        assertEquals(50.0, value, 0.7)
        assertTrue(texts().any { it.contains(" in") && it.contains("±") })
        tap("undo")
        assertNull(find("keep"))
    }

    @Test fun handOverMakesAPackAndGrantsOneName() {
        start(); tap("purpose:preflight"); tap("act:nothing_found")
        tap("more"); tap("go:handover"); tap("cut:review")
        val chooser = shadowOf(activity).nextStartedActivityForResult.intent
        val send = chooser.getParcelableExtra<Intent>(Intent.EXTRA_INTENT)!!
        assertEquals("application/zip", send.type)
        assertTrue(send.flags and Intent.FLAG_GRANT_READ_URI_PERMISSION != 0)
        val uri = send.getParcelableExtra<android.net.Uri>(Intent.EXTRA_STREAM)!!
        // PKZIP local header, APPNOTE 4.3.7
        assertEquals("504b0304", app.contentResolver.openInputStream(uri)!!.use { s -> ByteArray(4).also { s.read(it) } }.joinToString("") { "%02x".format(it) })
        for (bad in listOf("content://witnessmark.shell.files/out/..%2Fnotebook%2Fnotebook.toml", "content://witnessmark.shell.files/notebook/notebook.toml")) {
            assertNull(bad, runCatching { app.contentResolver.openInputStream(android.net.Uri.parse(bad)) }.getOrNull())
        }
    }

    @Test fun twoPhonesMeetInAFolder() {
        start(); tap("purpose:preflight"); tap("act:nothing_found")
        val shared = File(app.cacheDir, "shared").apply { mkdirs() }
        app.keep.meetingFolder = shared.path
        tap("more"); tap("go:handover")
        hand.actions = 0
        tap("exchange")
        assertEquals(1, hand.actions)
        assertTrue(shared.walkTopDown().any { it.isFile })
        val other = witnessmark.door.Notebook.forTests(File(app.cacheDir, "other").path, witnessmark.door.Author("B. Example", "mechanic"), ByteArray(32) { 9 }, "2026-05-02T09:00:00+02:00", 99uL)
        other.exchange(shared.path, false)
        assertEquals("N0123", other.aircraft().single().registration)
        // the other way: what they leave comes with the next exchange, and nothing stays on the way
        val paper = File(app.cacheDir, "theirs.jpg").also { hand.picture(it) }
        other.takePhoto(witnessmark.door.Source.Path(paper.path), witnessmark.door.PlaceGiven(craft(), null, null, null, null, true))
        other.exchange(shared.path, false)
        other.shut(); other.close()
        val before = core { it.unplaced(craft()) }.captures.size
        tap("exchange")
        assertEquals(before + 1, core { it.unplaced(craft()) }.captures.size)
        assertFalse(core { it.verify() }.failed)
        assertFalse(File(app.filesDir, "meeting").exists())
    }

    @Test fun aBackupIsMadeAndSaid() {
        start()
        app.keep.backupFolder = File(app.cacheDir, "safe").apply { mkdirs() }.path
        activity.back(); settle()
        tap("settings")
        sees(activity.getString(R.string.no_backup))
        tap("backup")
        assertTrue(File(app.cacheDir, "safe/witnessmark-2026-05-01/notebook.toml").exists())
        assertFalse(File(app.cacheDir, "safe").walkTopDown().any { it.name.endsWith(".pk8") })
        sees("2026-05-01")
        tap("check")
        sees(core { it.verify() }.says)
        tap("back")
        sees("2026-05-01")
    }

    @Test fun theRouteIsTurnedAndReordered() {
        start()
        val before = core { it.walk(craft(), app.keep.route(craft())) }.stops.map { it.key }
        tap("order"); tap("turn"); tap("done")
        val turned = core { it.walk(craft(), app.keep.route(craft())) }.stops.map { it.key }
        assertTrue(before != turned && before.toSet() == turned.toSet())
        tap("order"); tap("up:${turned[2]}")
        assertEquals(turned[2], core { it.walk(craft(), app.keep.route(craft())) }.stops[1].key)
    }
}
