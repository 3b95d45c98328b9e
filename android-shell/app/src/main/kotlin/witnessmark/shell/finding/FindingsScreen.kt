package witnessmark.shell.finding

import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

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

/** Findings of a stop that was just looked at as a whole: each still has to be looked for by itself. */
class UnaskedScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ book -> at["findings"].orEmpty().split(',').map { book.finding(aircraft, it).line } }) { list ->
        draw {
            title(word(R.string.still_there))
            line(word(R.string.still_there_help))
            for (line in list) ruled(line.title, line.says, "finding:${line.short}") { host.go(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            action(word(R.string.later_next), "main", "on") { host.back() }
        }
    }
}
