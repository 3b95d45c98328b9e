package witnessmark.shell

import android.graphics.Bitmap
import android.view.View
import android.widget.Button
import android.widget.TextView
import com.google.android.apps.common.testing.accessibility.framework.AccessibilityCheckPreset
import com.google.android.apps.common.testing.accessibility.framework.AccessibilityCheckResult.AccessibilityCheckResultType
import com.google.android.apps.common.testing.accessibility.framework.AccessibilityViewCheckResult
import java.io.File
import org.junit.Assert.assertEquals
import org.junit.Assert.assertTrue
import org.junit.Test
import org.robolectric.RuntimeEnvironment
import witnessmark.shell.kit.Ink
import witnessmark.shell.work.Where

/** Every screen as a picture, and on each: no word cut, no target too small, every control named, what is pressed low enough. */
class PicturesTest : ShellTest() {
    private val faults = ArrayList<String>()
    private val taken = LinkedHashMap<String, String>()

    /** A notebook with something on every screen. */
    private fun filled(): Map<String, Where> {
        start(); tap("purpose:preflight")
        val craft = HashMap<String, String>()
        var walkaround = ""
        app.core.ask({ book ->
            val id = book.aircraft().single().id
            craft["aircraft"] = id
            book.addAircraft("N0456", "Invented 4", null, "high_wing_strutted_fixed", false)
            fun photo(n: String, zone: String?, finding: String?) = File(app.cacheDir, n).also { hand.picture(it) }.let {
                book.takePhoto(witnessmark.door.Source.Path(it.path), witnessmark.door.PlaceGiven(id, "left_main_gear", zone, finding, null, true))
            }
            fun measured(value: String) = witnessmark.shell.finding.sighting(null, listOf(witnessmark.door.MeasureGiven("length", value, "mm", null, "ruler", null, null, emptyMap())))
            val zone = book.stop(id, "left_main_gear", app.keep.route(id)).zones.first().code
            craft["zone"] = zone
            craft["finding"] = book.openFinding(id, witnessmark.door.FindingGiven(zone, "crack", "fairing, aft screw", emptyList()), measured("31"))
            photo("a.jpg", zone, craft["finding"])
            hand.books.book!!.setClock("2026-06-03T09:00:00+02:00")
            // the same walk would only correct the first measure
            book.finishWalkaround(id); book.startWalkaround(id, witnessmark.door.WalkaroundGiven("preflight", null, null))
            book.sight(id, craft["finding"]!!, measured("44"))
            photo("b.jpg", zone, craft["finding"])
            val path = book.finding(id, craft["finding"]!!).photos
            craft["older"] = path[0].path; craft["newer"] = path[1].path; craft["path"] = path[1].path; craft["photo"] = path[1].entry
            craft["older_date"] = path[0].date; craft["newer_date"] = path[1].date
            craft["entry"] = photo("c.jpg", null, null).entry
            walkaround = book.walk(id, app.keep.route(id)).walkaround!!
        }) { said -> assertTrue("$said", said is witnessmark.shell.work.Said.Fine) }
        settle()
        val at = craft.filterKeys { it == "aircraft" }
        fun w(screen: String, vararg keys: String) = Where(screen, at + keys.associateWith { craft.getValue(it) })
        return linkedMapOf(
            "aircraft" to Where("aircraft"), "add" to Where("add"), "wrong-aircraft" to Where("aircraft", mapOf("walkaround" to walkaround, "from" to craft.getValue("aircraft"))),
            "walk" to w("walk"), "order" to w("order"), "stop" to w("stop").with("stop" to "left_main_gear"), "stop-propeller" to w("stop").with("stop" to "propeller"),
            "not-seen" to w("notseen").with("stop" to "left_main_gear"), "viewfinder" to w("viewfinder", "zone").with("stop" to "left_main_gear"), "voice" to w("voice").with("stop" to "propeller"),
            "write" to w("write"), "heard" to w("heard").with("text" to "crack two inches on the left wheel fairing"), "heard-question" to w("heard").with("text" to "oil seeping at the gear leg"),
            "unplaced" to w("unplaced"), "place" to w("place", "entry"), "more" to w("more"), "findings" to w("findings"), "finding" to w("finding", "finding"),
            "sight" to w("sight", "finding"), "done-about" to w("done", "finding"), "unchecked" to w("unchecked", "finding"), "unasked" to w("unasked").with("findings" to craft.getValue("finding")), "new-finding" to w("newfinding", "zone"), "zone" to w("zone", "zone"),
            "left" to w("left"), "again" to w("again"), "readings" to w("readings"), "reading" to w("reading").with("kind" to "oil_found"),
            "events" to w("events"), "event" to w("event").with("event" to "hard_landing"), "reading-where" to w("reading").with("kind" to "pressure"), "papers" to w("papers"), "handover" to w("handover"), "before-flight" to w("before"),
            "settings" to w("settings"), "measure" to w("measure", "finding", "photo", "path"), "lay" to w("lay", "older", "newer", "older_date", "newer_date"),
            "trouble-full" to Where("trouble", mapOf("code" to "NoSpace", "what" to "the storage is full", "do" to "free some space and try again")),
            "trouble-damaged" to Where("trouble", mapOf("code" to "ReadOnly", "what" to "line 2 is not what was signed", "where" to "record")),
        )
    }

    private fun check(name: String, upright: Boolean) {
        val density = activity.resources.displayMetrics.density
        val screen = root.height
        for (view in all().filter { it.isShown }) {
            if (view is TextView && view.text.isNotEmpty() && view !is android.widget.EditText) {
                val layout = view.layout
                if (layout == null || layout.height + view.compoundPaddingTop + view.compoundPaddingBottom > view.height + 1) faults.add("$name: cut: ${view.text}")
                else for (i in 0 until layout.lineCount) {
                    if (layout.getEllipsisCount(i) > 0) faults.add("$name: shortened: ${view.text}")
                    val end = layout.getLineEnd(i)
                    // a path has no better place to break
                    val path = '/' in view.text.substring(view.text.lastIndexOf(' ', end - 1) + 1).substringBefore(' ')
                    if (end < view.text.length && !path && view.text[end - 1].isLetter() && view.text[end].isLetter()) faults.add("$name: broken inside a word: ${view.text}")
                }
            }
            if (view.isClickable && view.tag != "marks" && view.tag != "flick") {
                val least = 48 * density - 1
                if (view.width < least || view.height < least) faults.add("$name: ${view.tag} is ${view.width / density} x ${view.height / density} dp")
                val named = !view.contentDescription.isNullOrBlank() || view is TextView && (view.text.isNotBlank() || view is android.widget.EditText)
                if (!named) faults.add("$name: ${view.tag} has no name")
            }
            if (view is Button) (view.parent as View).let { if (view.top < 0 || view.bottom > it.height) faults.add("$name: ${view.text} is pushed out of its row") }
            if (view is Button && view.textSize > 20 * activity.resources.displayMetrics.scaledDensity && view.height < 72 * density) faults.add("$name: main action ${view.text} is low")
        }
        // nothing that is pressed to go on lies in the top third
        if (upright) {
            val box = IntArray(2)
            for (view in all().filter { it is Button && it.isShown }) {
                view.getLocationInWindow(box)
                if (box[1] < screen * 0.33) faults.add("$name: ${(view as Button).text} is at ${box[1] * 100 / screen} % of the height")
            }
        }
        for (result in AccessibilityCheckPreset.getViewChecksForPreset(AccessibilityCheckPreset.LATEST).flatMap { it.runCheckOnViewHierarchy(root) }) {
            if (result.type == AccessibilityCheckResultType.ERROR) faults.add("$name: ${result.message} ${(result as AccessibilityViewCheckResult).view?.tag}")
        }
    }

    private fun picture(name: String, upright: Boolean) {
        val bitmap = shot()
        val file = File(System.getProperty("shell.pictures")!!, "$name.png").apply { parentFile!!.mkdirs() }
        file.outputStream().use { bitmap.compress(Bitmap.CompressFormat.PNG, 100, it) }
        check(name, upright)
        // 20 x 40 grey levels: coarse enough for another processor's rounding, fine enough for anything that moves
        val thumb = Bitmap.createScaledBitmap(bitmap, 20, 40, true)
        taken[name] = (0 until 800).joinToString("") { i -> "%x".format((thumb.getPixel(i % 20, i / 20) shr 8 and 255) / 16) }
    }

    /** golden/NAME.txt: a line a picture. Written anew with WITNESSMARK_WRITE_PICTURES=1, after looking at them. */
    private fun golden(set: String) {
        assertEquals(faults.joinToString("\n"), 0, faults.size)
        val file = File(System.getProperty("shell.golden")!!, "$set.txt")
        if (System.getenv("WITNESSMARK_WRITE_PICTURES") != null) { file.parentFile!!.mkdirs(); file.writeText(taken.entries.joinToString("\n", postfix = "\n") { "${it.key} ${it.value}" }) }
        val known = file.readLines().filter { it.isNotEmpty() }.associate { it.substringBefore(' ') to it.substringAfter(' ') }
        assertEquals(known.keys, taken.keys)
        for ((name, thumb) in taken) {
            val moved = thumb.indices.count { Math.abs(Character.digit(thumb[it], 16) - Character.digit(known.getValue(name)[it], 16)) > 1 }
            assertTrue("$name looks different: $moved of 800 places", moved <= 8)
        }
    }

    private fun set(name: String, only: Set<String>? = null, upright: Boolean = true, before: () -> Unit = {}) {
        val screens = filled()
        before()
        shell.destroy(); die(); launch()
        for ((screen, where) in screens) if (only == null || screen in only) {
            activity.home(where); settle()
            // the same path in every run, and the one a phone has
            all().filterIsInstance<TextView>().filter { app.dataDir.path in it.text }.forEach { it.text = it.text.toString().replace(app.dataDir.path, "/data/user/0/witnessmark.shell") }
            settle()
            picture("$name-$screen", upright)
        }
        golden(name)
    }

    private val some = setOf("aircraft", "walk", "stop", "viewfinder", "voice", "heard", "heard-question", "unplaced", "finding", "sight", "measure", "left", "handover", "settings", "trouble-full", "event")

    @Test fun phone411() = set("411")
    @Test fun night() = set("night", some) { RuntimeEnvironment.setQualifiers("+night") }
    @Test fun sun() = set("sun", some) { app.keep.theme = "sun" }
    @Test fun phone320() = set("320") { RuntimeEnvironment.setQualifiers("w320dp-h533dp-hdpi") }
    @Test fun twiceTheText() = set("200") { RuntimeEnvironment.setFontScale(2f) }
    @Test fun twiceTheTextOnASmallPhone() = set("320-200", some, upright = false) { RuntimeEnvironment.setQualifiers("w320dp-h533dp-hdpi"); RuntimeEnvironment.setFontScale(2f) }
    @Test fun tablet() = set("tablet", some, upright = false) { RuntimeEnvironment.setQualifiers("w800dp-h1280dp-mdpi") }
    @Test fun onItsSide() = set("side", some, upright = false) { RuntimeEnvironment.setQualifiers("w914dp-h411dp-land-420dpi") }
    @Test fun pseudo() = set("pseudo", some) { RuntimeEnvironment.setQualifiers("+en-rXA") }
    @Test fun rightToLeft() = set("rtl", some) { RuntimeEnvironment.setQualifiers("+ar-rXB-ldrtl") }
    @Test fun leftThumb() = set("left", setOf("stop", "finding", "unplaced")) { app.keep.leftHanded = true }
    @Test fun firstStart() { launch(); picture("first-1", true); type("name", "A. Example"); tap("on"); picture("first-2", true); tap("choice:owner"); picture("first-3", true); golden("first") }

    /** WCAG 2.2, relative luminance and contrast ratio. */
    @Test fun contrastAndNoDazzle() {
        launch()
        fun lum(c: Int): Double {
            fun part(v: Int): Double { val s = v / 255.0; return if (s <= 0.04045) s / 12.92 else Math.pow((s + 0.055) / 1.055, 2.4) }
            return 0.2126 * part(c shr 16 and 255) + 0.7152 * part(c shr 8 and 255) + 0.0722 * part(c and 255)
        }
        fun ratio(a: Int, b: Int) = (maxOf(lum(a), lum(b)) + 0.05) / (minOf(lum(a), lum(b)) + 0.05)
        for ((theme, least) in listOf("sun" to 7.0, "phone" to 7.0, "night" to 4.5)) {
            val ink = Ink.of(activity, theme)
            for (pair in listOf(ink.ink to ink.paper, ink.faint to ink.paper, ink.onPlate to ink.plate, ink.mark to ink.paper)) {
                val r = ratio(pair.first, pair.second)
                println("contrast $theme %08x on %08x: %.1f".format(pair.first, pair.second, r))
                assertTrue("$theme: %.2f".format(r), r >= least)
            }
            if (theme == "night") assertTrue(listOf(ink.ink, ink.onPlate, ink.faint, ink.mark, ink.paper).all { lum(it) < 0.5 })
        }
    }
}
