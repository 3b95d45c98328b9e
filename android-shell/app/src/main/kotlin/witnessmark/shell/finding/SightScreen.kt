package witnessmark.shell.finding

import android.text.InputType
import witnessmark.door.Choice
import witnessmark.door.FindingScreen
import witnessmark.door.MeasureGiven
import witnessmark.door.SightingGiven
import witnessmark.door.againChoices
import witnessmark.door.notSeenReasons
import witnessmark.door.treatments
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Page
import witnessmark.shell.kit.Screen
import witnessmark.shell.kit.answers
import witnessmark.shell.kit.asked
import witnessmark.shell.work.Where

fun sighting(
    result: String?, measures: List<MeasureGiven> = emptyList(), step: String? = null, basis: String? = null,
    text: String? = null, evidence: List<String> = emptyList(), why: String? = null,
) = SightingGiven(result, why, basis, step, measures, evidence, text, null)

/** Seen again, with a measure or a step. */
class SightScreen(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()
    private var unit by NotedNumber("unit")
    private var method by NotedNumber("method")
    private var quantity by NotedNumber("quantity")
    private var step by Noted("step", "")
    private var value = ""
    private var text = ""

    override fun load(): Unit = ask({ it.finding(aircraft, finding) }) { shown -> show(shown) }

    private fun show(shown: FindingScreen): Unit = draw {
        title(word(R.string.seen_again), shown.line.title)
        if (shown.steps.isNotEmpty()) {
            heading(word(R.string.how_far))
            choose(shown.steps.map { it.key to it.title }, step, "step") { step = it; show(shown) }
        }
        val q = shown.quantities.getOrNull(quantity)
        if (q != null) {
            if (shown.quantities.size > 1) ruled(word(R.string.quantity), q.title, "quantity") { quantity = (quantity + 1) % shown.quantities.size; unit = 0; method = 0; show(shown) }
            field(q.title, "", "value", InputType.TYPE_CLASS_TEXT) { value = it }
            ruled(word(R.string.unit), q.units.getOrElse(unit) { "" }, "unit") { unit = (unit + 1) % q.units.size; show(shown) }
            ruled(word(R.string.method), q.methods.getOrNull(method)?.title.orEmpty(), "method") { method = (method + 1) % q.methods.size; show(shown) }
            asked(shown.asks, this@SightScreen) { show(shown) }
        }
        field(word(R.string.words), "", "words") { text = it }
        action(word(R.string.keep), "main", "keep") {
            val measures = if (q == null || value.isBlank()) emptyList() else listOf(
                MeasureGiven(q.name, value.trim(), q.units[unit], null, q.methods[method].key, null, null, answers(shown.asks)),
            )
            ask({ it.sight(aircraft, finding, sighting(null, measures, step.ifEmpty { null }, null, text.ifBlank { null })) }) { host.say(word(R.string.sighting_saved)); host.back() }
        }
        action(word(R.string.could_not_check), "usual", "could_not") { host.turn(Where("unchecked", mapOf("aircraft" to aircraft, "finding" to finding))) }
        action(word(R.string.back), "small", "back") { host.back() }
    }
}

/** It could not be checked, and why: one tap. */
class UncheckedScreen(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()

    override fun load(): Unit = ask({ it.finding(aircraft, finding).line to notSeenReasons() }) { (shown, reasons) ->
        draw {
            title(word(R.string.why_not_checked), shown.title)
            var own = ""
            field(word(R.string.other_reason), "", "reason") { own = it }
            for (reason in reasons) action(reason.title, "usual", "why:${reason.key}") { save(reason.key) }
            action(word(R.string.keep_reason), "small", "own") { if (own.isBlank()) host.tell(word(R.string.other_reason)) else save(own) }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }

    private fun save(why: String): Unit =
        ask({ it.sight(aircraft, finding, sighting("could_not_check", why = why)) }) { host.say(word(R.string.saved_not_checked)); host.back() }
}

/** What was done about it, who was told, when to look again: claims of the person's own. */
class DoneScreen(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()
    private var chosen by Noted("how", "")
    private var words = ""
    private var by = ""

    override fun load(): Unit = ask({ Triple(it.finding(aircraft, finding), treatments(), againChoices()) }) { (shown, ways, whens) -> show(shown, ways, whens) }

    private fun show(shown: FindingScreen, ways: List<Choice>, whens: List<Choice>): Unit = draw {
        title(word(R.string.done_about), shown.line.title)
        quiet(word(R.string.done_claim))
        heading(word(R.string.what_was_done))
        choose(ways.map { it.key to it.title }, chosen, "how") { chosen = it; show(shown, ways, whens) }
        field(word(R.string.in_own_words), "", "how") { words = it }
        field(word(R.string.by_whom), "", "by") { by = it }
        heading(word(R.string.again))
        for (time in whens) ruled(time.title, "", "again:${time.key}") { ask({ it.lookAgain(aircraft, finding, time.key) }) { host.say(word(R.string.again_saved)); host.back() } }
        action(word(R.string.treated), "main", "treated") { with { how -> ask({ it.treat(aircraft, finding, how, by.ifBlank { null }) }) { host.say(word(R.string.treated_saved)); host.back() } } }
        action(word(R.string.closed), "usual", "close") { with { how -> ask({ it.closeFinding(aircraft, finding, how, by.ifBlank { null }, null) }) { host.say(word(R.string.closed_saved)); host.back() } } }
        action(word(R.string.was_told), "usual", "told") { told(this) }
        action(word(R.string.back), "small", "back") { host.back() }
    }

    private fun with(save: (String) -> Unit) {
        val how = listOf(chosen, words.trim()).filter { it.isNotEmpty() }.joinToString(": ")
        if (how.isEmpty()) host.tell(word(R.string.say_what_was_done)) else save(how)
    }

    private fun told(page: Page) {
        if (by.isBlank()) { host.tell(page.word(R.string.say_who)); return }
        ask({ it.told(aircraft, finding, by) }) { host.say(word(R.string.told_saved, by)); host.back() }
    }
}
