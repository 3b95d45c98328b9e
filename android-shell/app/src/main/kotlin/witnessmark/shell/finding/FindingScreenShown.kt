package witnessmark.shell.finding

import android.text.InputType
import witnessmark.door.FindingScreen
import witnessmark.door.MeasureGiven
import witnessmark.door.SightingGiven
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** One finding: its story with the growth drawn, and what people do about it. */
class FindingScreenShown(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()

    override fun load(): Unit = ask({ it.finding(aircraft, finding) }) { shown ->
        draw {
            title(shown.line.title, "${shown.line.short} · ${shown.zoneName}")
            shown.cautions.forEach { caution(it) }
            line(shown.line.says)
            quiet(shown.first)
            shown.limit?.let { line(it) }
            shown.again?.let { line(it) }
            shown.concerns.forEach { quiet(it) }
            if (shown.story.count { it.value != null } > 1) {
                picture(GrowthView(host.activity, ink, shown.story.filter { it.value != null }).apply { contentDescription = shown.line.says }, 150)
            }
            heading(word(R.string.story))
            for (step in shown.story) {
                ruled("${step.date}  ${step.says}", listOfNotNull(step.change.ifEmpty { null }, step.by, step.hours).joinToString(" · "))
                step.photos.lastOrNull()?.let { photo(it.path, it.orientation.toInt(), word(R.string.photo_of, it.date), 130) }
            }
            for (picture in shown.photos) photo(picture.path, picture.orientation.toInt(), word(R.string.measure_on, picture.date), 130, "measure:${picture.entry}") {
                host.go(Where("measure", mapOf("aircraft" to aircraft, "finding" to finding, "photo" to picture.entry, "path" to picture.path, "turned" to picture.orientation.toString())))
            }
            action(word(R.string.seen_again), "main", "sight") { host.go(Where("sight", mapOf("aircraft" to aircraft, "finding" to finding))) }
            action(word(R.string.photo), "usual", "photo") { host.go(Where("viewfinder", mapOf("aircraft" to aircraft, "finding" to finding, "zone" to shown.line.zone))) }
            if (shown.photos.size > 1) action(word(R.string.older_on_newer), "usual", "lay") { lay(shown) }
            action(word(R.string.not_found), "usual", "not_found") {
                write({ it.sight(aircraft, finding, sighting("not_found")) }) { word(R.string.saved_not_found) }
            }
            action(word(R.string.ask_concern), "small", "concern:ask") { write({ it.concern(aircraft, finding, "ask") }) { word(R.string.concern_saved) } }
            action(word(R.string.before_flight_concern), "small", "concern:before_flight") { write({ it.concern(aircraft, finding, "before_flight") }) { word(R.string.concern_saved) } }
            action(word(R.string.done_about), "small", "done_about") { host.go(Where("sight", mapOf("aircraft" to aircraft, "finding" to finding, "what" to "done"))) }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }

    private fun lay(shown: FindingScreen) {
        val older = shown.photos[shown.photos.size - 2]; val newer = shown.photos.last()
        host.go(
            Where(
                "lay",
                mapOf(
                    "aircraft" to aircraft, "older" to older.path, "newer" to newer.path, "older_date" to older.date, "newer_date" to newer.date,
                    "older_turned" to older.orientation.toString(), "newer_turned" to newer.orientation.toString(),
                ),
            ),
        )
    }
}

fun sighting(result: String?, measures: List<MeasureGiven> = emptyList(), step: String? = null, basis: String? = null, text: String? = null, evidence: List<String> = emptyList()) =
    SightingGiven(result, null, basis, step, measures, evidence, text, null)

/** Findings, deteriorated first. */
class FindingsScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.findings(aircraft) }) { list ->
        draw {
            title(word(R.string.findings))
            if (list.isEmpty()) line(word(R.string.no_findings))
            for (line in list) ruled(line.title, line.says, "finding:${line.short}") { host.go(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            action(word(R.string.new_finding), "usual", "new") { host.go(Where("newfinding", mapOf("aircraft" to aircraft))) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}

/** Seen again, with a measure or a step; or what was done about it. */
class SightScreen(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()
    private var unit = 0; private var method = 0; private var quantity = 0; private var value = ""; private var step: String? = null; private var text = ""

    override fun load(): Unit = ask({ it.finding(aircraft, finding) }) { shown -> if (at["what"] == "done") done(shown) else sight(shown) }

    private fun sight(shown: FindingScreen): Unit = draw {
        title(word(R.string.seen_again), shown.line.title)
        if (shown.steps.isNotEmpty()) {
            heading(word(R.string.how_far))
            choose(shown.steps.map { it.key to it.title }, step, "step") { step = it; sight(shown) }
        }
        val q = shown.quantities.getOrNull(quantity)
        if (q != null) {
            if (shown.quantities.size > 1) ruled(word(R.string.quantity), q.title, "quantity") { quantity = (quantity + 1) % shown.quantities.size; unit = 0; method = 0; sight(shown) }
            field(q.title, value, "value", InputType.TYPE_CLASS_TEXT) { value = it }
            ruled(word(R.string.unit), q.units.getOrElse(unit) { "" }, "unit") { unit = (unit + 1) % q.units.size; sight(shown) }
            ruled(word(R.string.method), q.methods.getOrNull(method)?.title.orEmpty(), "method") { method = (method + 1) % q.methods.size; sight(shown) }
        }
        field(word(R.string.words), text, "words") { text = it }
        action(word(R.string.keep), "main", "keep") {
            val measures = if (q == null || value.isBlank()) emptyList() else listOf(
                MeasureGiven(q.name, value.trim(), q.units[unit], null, q.methods[method].key, null, null, emptyMap()),
            )
            ask({ it.sight(aircraft, finding, sighting(null, measures, step, null, text.ifBlank { null })) }) { host.say(word(R.string.sighting_saved)); host.back() }
        }
        action(word(R.string.could_not_check), "usual", "could_not") {
            ask({ it.sight(aircraft, finding, sighting("could_not_check")) }) { host.say(word(R.string.saved_not_checked)); host.back() }
        }
        action(word(R.string.back), "small", "back") { host.back() }
    }

    private fun done(shown: FindingScreen): Unit = draw {
        title(word(R.string.done_about), shown.line.title)
        quiet(word(R.string.done_claim))
        var how = ""; var by = ""
        field(word(R.string.what_was_done), "", "how") { how = it }
        field(word(R.string.by_whom), "", "by") { by = it }
        action(word(R.string.treated), "main", "treated") { ask({ it.treat(aircraft, finding, how.ifBlank { word(R.string.treated) }, by.ifBlank { null }) }) { host.say(word(R.string.treated_saved)); host.back() } }
        action(word(R.string.closed), "usual", "close") { ask({ it.closeFinding(aircraft, finding, how.ifBlank { word(R.string.closed) }, by.ifBlank { null }, null) }) { host.say(word(R.string.closed_saved)); host.back() } }
        action(word(R.string.was_told), "usual", "told") { if (by.isNotBlank()) ask({ it.told(aircraft, finding, by) }) { host.say(word(R.string.told_saved, by)); host.back() } }
        action(word(R.string.look_again_next), "small", "next_flight") { ask({ it.lookAgain(aircraft, finding, "next flight") }) { host.say(word(R.string.again_saved)); host.back() } }
        action(word(R.string.back), "small", "back") { host.back() }
    }
}
