package witnessmark.shell.measure

import witnessmark.door.AskLine
import witnessmark.door.Dot
import witnessmark.door.MeasureGiven
import witnessmark.door.MeasureView
import witnessmark.door.PhotoAtWork
import witnessmark.door.PlaceGiven
import witnessmark.door.ScaleGiven
import witnessmark.door.Source
import witnessmark.shell.R
import witnessmark.shell.finding.sighting
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Photos
import witnessmark.shell.kit.Screen
import witnessmark.shell.kit.answers
import witnessmark.shell.kit.asked
import witnessmark.shell.work.Where

/** Four corners of a card, then two taps for a crack or one for a stain. Every step can be taken back. */
class MeasureScreen(host: Host, at: Where) : Screen(host, at) {
    private var work: PhotoAtWork? = null
    private lateinit var marks: MarksView
    private var measured: MeasureView? = null
    private var scaled = false
    private var corners: List<Dot> = emptyList()
    private var stain = false

    override fun load(): Unit = ask({ book ->
        val photo = at["path"]?.let { it to (at["turned"] ?: "1").toInt() }
            ?: book.unplaced(aircraft).captures.first { it.entry == at["photo"] }.let { it.path.orEmpty() to it.orientation.toInt() }
        val open = PhotoAtWork.open(Source.Path(photo.first))
        val size = open.size()
        work = open
        Triple(Photos.small(photo.first, photo.second, 900), size.width.toInt() to size.height.toInt(), book.findings(aircraft).filter { it.open })
    }) { (bitmap, size, _) ->
        if (bitmap == null) { draw { title(word(R.string.measure)); line(word(R.string.photo_unreadable)); action(word(R.string.back), "main", "back") { host.back() } }; return@ask }
        marks = MarksView(host.activity, host.ink, bitmap, size.first, size.second).apply { contentDescription = word(R.string.measure_picture); tag = "marks" }
        marks.changed = { marked() }
        show("")
    }

    private fun marked() {
        val dots = marks.dots
        if (!scaled) { if (dots.size == 4) scale(dots) else show("") }
        else if (marks.fixed != corners) moved()
        else if (stain && dots.size == 1) line(dots) { it.outline(dots[0]) }
        else if (!stain && dots.size == 2) line(dots) { it.trace(dots) }
    }

    private fun scale(corners: List<Dot>): Unit = apart({ work!!.setScale(ScaleGiven.Card(corners)) }) { scale ->
        scaled = true
        this.corners = corners
        marks.fixed = corners
        marks.dots = emptyList()
        show(scale.warnings.joinToString(" "))
    }

    /** A corner was dragged after the fourth tap: the scale is taken back and set anew, and what was measured by it goes. */
    private fun moved() {
        val again = marks.fixed
        val steps = if (measured != null) 2 else 1
        measured = null
        marks.line = emptyList()
        apart({ repeat(steps) { work!!.undo() } }) { scale(again) }
    }

    private fun line(taps: List<Dot>, make: (PhotoAtWork) -> witnessmark.door.LineView) = apart({ val line = make(work!!); line to work!!.measure() }) { (line, measure) ->
        marks.line = line.points; marks.closed = line.closed
        marks.dots = taps
        measured = measure
        show("")
    }

    /** A tap that is no step of the core yet is only a mark here. */
    private fun undo() {
        if (measured == null && marks.dots.isNotEmpty()) { marks.dots = marks.dots.dropLast(1); show(""); return }
        if (measured == null && !scaled) return
        apart({ work!!.undo() }) {
            if (measured != null) { measured = null; marks.line = emptyList(); marks.dots = emptyList() }
            else { scaled = false; marks.dots = corners.dropLast(1); marks.fixed = emptyList(); corners = emptyList() }
            show("")
        }
    }

    private fun show(warning: String) {
        (marks.parent as? android.view.ViewGroup)?.removeView(marks)
        draw {
            title(word(R.string.measure))
            picture(marks, 400)
            val now = measured
            if (now != null) { heading(now.says); heading(now.saysInches); now.warnings.forEach { quiet(it) } }
            else line(word(if (!scaled) R.string.tap_corners else if (stain) R.string.tap_stain else R.string.tap_crack))
            if (!scaled) caution(word(R.string.no_payment_card))
            if (warning.isNotEmpty()) quiet(warning)
            if (now != null) action(word(R.string.keep), "main", "keep") { keep(now.measure) }
            action(word(if (stain) R.string.crack_instead else R.string.stain_instead), "usual", "kind") { stain = !stain; if (scaled) marks.dots = emptyList(); show("") }
            action(word(R.string.undo), "usual", "undo") { undo() }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }

    private fun keep(measure: MeasureGiven) {
        val finding = at["finding"]
        if (finding == null) { choose(measure); return }
        ask({ it.finding(aircraft, finding).asks }) { asks -> if (asks.isEmpty()) save(finding, measure) else answered(finding, measure, asks) }
    }

    /** What has to be asked with a measure, so that it can be compared with the one before. */
    private fun answered(finding: String, measure: MeasureGiven, asks: List<AskLine>): Unit = draw {
        title(word(R.string.one_more_question))
        heading(measure.value + " " + measure.unit)
        asked(asks, this@MeasureScreen) { answered(finding, measure, asks) }
        action(word(R.string.keep), "main", "keep") { save(finding, measure.copy(context = measure.context + answers(asks))) }
        action(word(R.string.back), "usual", "back") { show("") }
    }

    private fun save(finding: String, measure: MeasureGiven) {
        val given = measure.copy(photo = at["photo"])
        ask({ it.sight(aircraft, finding, sighting(null, listOf(given), null, "measured", null, listOfNotNull(at["photo"]))) }) { host.say(word(R.string.sighting_saved)); host.back() }
    }

    /** A photo that hangs on no finding yet: the measure goes to one of these. */
    private fun choose(measure: MeasureGiven): Unit = ask({ it.findings(aircraft).filter { line -> line.open } }) { list ->
        draw {
            title(word(R.string.on_finding))
            for (line in list) ruled(line.title, line.short, "finding:${line.short}") {
                val given = measure.copy(photo = at["photo"])
                ask({ book ->
                    at["photo"]?.let { book.place(it, PlaceGiven(aircraft, null, line.zone, line.id, null, true)) }
                    book.sight(aircraft, line.id, sighting(null, listOf(given), null, "measured", null, listOfNotNull(at["photo"])))
                }) { host.say(word(R.string.sighting_saved)); host.turn(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            }
            action(word(R.string.new_finding), "usual", "new") { host.turn(Where("newfinding", mapOf("aircraft" to aircraft, "measure" to carried(measure.copy(photo = at["photo"])))).with("entry" to at["photo"])) }
            action(word(R.string.back), "usual", "back") { show("") }
        }
    }

    override fun left() {
        super.left()
        work?.let { open -> work = null; open.cancel(); host.core.apart({ open.shut(); open.close() }) { } }
    }
}
