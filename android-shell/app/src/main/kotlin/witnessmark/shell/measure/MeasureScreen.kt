package witnessmark.shell.measure

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
import witnessmark.shell.work.Where

/** Four corners of a card, then two taps for a crack or one for a stain. Every step can be taken back. */
class MeasureScreen(host: Host, at: Where) : Screen(host, at) {
    private var work: PhotoAtWork? = null
    private lateinit var marks: MarksView
    private var measured: MeasureView? = null
    private var scaled = false
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
        else if (stain && dots.size == 1) line(dots) { it.outline(dots[0]) }
        else if (!stain && dots.size == 2) line(dots) { it.trace(dots) }
    }

    private fun scale(corners: List<Dot>): Unit = apart({ work!!.setScale(ScaleGiven.Card(corners)) }) { scale ->
        scaled = true
        marks.fixed = corners
        marks.dots = emptyList()
        show(scale.warnings.joinToString(" "))
    }

    private fun line(taps: List<Dot>, make: (PhotoAtWork) -> witnessmark.door.LineView) = apart({ val line = make(work!!); line to work!!.measure() }) { (line, measure) ->
        marks.line = line.points; marks.closed = line.closed
        marks.dots = taps
        measured = measure
        show("")
    }

    private fun undo(): Unit = apart({ work!!.undo() }) {
        if (measured != null) { measured = null; marks.line = emptyList(); marks.dots = emptyList() }
        else if (marks.dots.isNotEmpty()) marks.dots = marks.dots.dropLast(1)
        else { scaled = false; marks.fixed = emptyList() }
        show("")
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
            action(word(R.string.new_finding), "usual", "new") { host.turn(Where("newfinding", mapOf("aircraft" to aircraft, "entry" to at["photo"].orEmpty()))) }
            action(word(R.string.back), "usual", "back") { show("") }
        }
    }

    override fun left() {
        super.left()
        work?.let { open -> work = null; open.cancel(); host.core.apart({ open.shut(); open.close() }) { } }
    }
}
