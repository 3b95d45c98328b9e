package witnessmark.shell.again

import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** How many and with what at the start; where only after the look. */
class AgainScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = ask({ it.again(aircraft) }) { again ->
        draw {
            title(word(R.string.again))
            line(again.says)
            if (again.tools.isNotEmpty()) heading(word(R.string.tools))
            again.tools.forEach { ruled(it, "") }
            if (again.covered > 0u) quiet(many(R.plurals.covered, again.covered.toInt()))
            for (line in again.shown) ruled(line.title, line.says, "finding:${line.short}") { host.go(Where("finding", mapOf("aircraft" to aircraft, "finding" to line.id))) }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}
