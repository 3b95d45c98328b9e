package witnessmark.shell.heard

import witnessmark.door.DraftView
import witnessmark.door.PlaceGiven
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
            } else if (draft.command != null) action(draft.readBack, "main", "command") { command(draft.command!!) }
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
    private fun command(key: String) {
        host.back()
        val stop = mapOf("aircraft" to aircraft, "stop" to at["stop"].orEmpty())
        when (key) {
            "photo" -> host.go(Where("viewfinder", stop))
            "undo" -> ask({ it.undo(aircraft) }) { host.say(it.says) }
            "next" -> ask({ it.stop(aircraft, at["stop"].orEmpty(), host.keep.route(aircraft)).nextStop }) { next -> if (next != null) host.turn(Where("stop", stop + ("stop" to next))) }
            else -> host.go(Where("more", stop))
        }
    }
}
