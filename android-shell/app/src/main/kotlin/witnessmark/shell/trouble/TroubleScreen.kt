package witnessmark.shell.trouble

import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** What happened, where, what to do next: the core's three texts, and the ways out that fit. */
class TroubleScreen(host: Host, at: Where) : Screen(host, at) {
    override fun load(): Unit = draw {
        title(
            word(
                when (at["code"]) {
                    "NoSpace" -> R.string.trouble_full
                    "Damaged", "ReadOnly" -> R.string.trouble_damaged
                    "Busy" -> R.string.trouble_busy
                    "NoPermission" -> R.string.trouble_permission
                    "Newer" -> R.string.trouble_newer
                    "Input" -> R.string.trouble_input
                    else -> R.string.trouble_other
                },
            ),
        )
        line(at["what"].orEmpty())
        quiet(at["where"].orEmpty())
        line(at["do"].orEmpty())
        when (at["code"]) {
            "NoSpace" -> line(word(R.string.trouble_full_help))
            "ReadOnly" -> line(word(R.string.trouble_damaged_help))
        }
        if (at["code"] == "ReadOnly") {
            action(word(R.string.read_only_go_on), "main", "read_only") { host.home(Where("aircraft")) }
            action(word(R.string.settings), "usual", "settings") { host.go(Where("settings")) }
        } else {
            action(word(R.string.try_again), "main", "again") { host.activity.recreate() }
            action(word(R.string.back), "usual", "back") { host.back() }
        }
    }
}
