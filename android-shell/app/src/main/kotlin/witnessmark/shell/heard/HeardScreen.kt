package witnessmark.shell.heard

import witnessmark.door.DraftView
import witnessmark.door.PlaceGiven
import witnessmark.door.StopView
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** What was heard, with its questions; nothing is a fact until it is kept. */
class HeardScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ book ->
        at["draft"]?.let { given -> null to given } ?: (book.hear(aircraft, at["text"].orEmpty(), at["others"].orEmpty().lines().filter { it.isNotEmpty() }, at["stop"]) to "")
    }) { (fresh, _) -> fresh?.let { show(it) } ?: host.back() }

    private fun show(draft: DraftView) {
        if (at["spoken"] == "yes" && host.keep.readBack) host.ports.speaker.say(host.activity, draft.questions.firstOrNull()?.asked ?: draft.readBack)
        draw {
            title(word(R.string.heard))
            quiet(at["text"].orEmpty())
            line(draft.readBack)
            draft.lines.filter { it != draft.readBack }.forEach { ruled(it, "") }
            if (draft.leftOver.isNotEmpty()) quiet(word(R.string.left_over, draft.leftOver))
            val question = draft.questions.firstOrNull()
            if (question != null) {
                heading(question.asked)
                var own = ""
                if (question.choices.isEmpty() || question.choices.size > 4) field(question.asked, "", "answer") { own = it }
                for (choice in question.choices.take(4)) action(choice, "usual", "answer:$choice", asRead = true) { answer(draft, choice) }
                if (question.choices.isEmpty() || question.choices.size > 4) action(word(R.string.on), "main", "answer_own") { answer(draft, own) }
            } else if (draft.command != null) action(draft.readBack, "main", "command") { command(draft, draft.command!!) }
            else if (draft.mayKeep) action(word(R.string.keep), "main", "keep") {
                ask({ it.keep(aircraft, draft.draft, at["stop"]) }) { kept ->
                    host.say(kept.says)
                    val finding = kept.opened.firstOrNull() ?: kept.sighted.firstOrNull()
                    if (finding != null) host.turn(Where("finding", mapOf("aircraft" to aircraft, "finding" to finding))) else host.back()
                }
            }
            action(word(R.string.keep_note), "small", "note") {
                ask({ it.writeNote(at["text"].orEmpty(), PlaceGiven(aircraft, at["stop"], null, null, null, true)) }) { host.say(it.says); host.back() }
            }
            action(word(R.string.throw_away), "small", "away") { host.back() }
        }
    }

    private fun answer(draft: DraftView, word: String) {
        if (word.isNotBlank()) ask({ it.answer(aircraft, draft.draft, 0u, word) }) { show(it) }
    }

    /** A spoken command does what its button does. */
    private fun command(draft: DraftView, key: String) {
        val stop = mapOf("aircraft" to aircraft, "stop" to at["stop"].orEmpty())
        fun over(screen: String, vararg more: Pair<String, String>) { host.back(); host.go(Where(screen, stop + more)) }
        when (key) {
            "photo" -> over("viewfinder")
            "measure" -> over("viewfinder", "then" to "measure")
            "undo" -> ask({ it.undo(aircraft) }) { host.say(it.says); host.back() }
            "next" -> beside { it.nextStop }
            "back" -> beside { it.previousStop }
            "finish" -> over("left")
            "show", "concern" -> over("findings")
            "repeat" -> host.ports.speaker.say(host.activity, draft.readBack)
            "discard", "stop", "keep" -> host.back()
            else -> over("more")
        }
    }

    /** Asked while this screen is still there; then the stop beneath it gives way to its neighbour. */
    private fun beside(which: (StopView) -> String?): Unit = ask({ which(it.stop(aircraft, at["stop"].orEmpty(), host.keep.route(aircraft))) }) { to ->
        host.back()
        if (to != null) host.turn(Where("stop", mapOf("aircraft" to aircraft, "stop" to to))) else host.go(Where("left", mapOf("aircraft" to aircraft)))
    }
}
