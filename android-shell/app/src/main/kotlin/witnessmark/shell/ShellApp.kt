package witnessmark.shell

import android.app.Application
import java.io.File
import witnessmark.shell.files.OwnFiles
import witnessmark.shell.hardware.Ports
import witnessmark.shell.work.CoreThread
import witnessmark.shell.work.Keep
import witnessmark.shell.work.Taking

/** What lives as long as the process. */
class ShellApp : Application() {
    val ports: Ports by lazy { played ?: Ports() }
    val core: CoreThread by lazy { CoreThread(File(filesDir, "notebook").path, ports.books, ports.keys(this)) }
    val keep: Keep by lazy { Keep(this) }
    val taking: Taking by lazy { Taking(OwnFiles.folder(this, OwnFiles.TAKING)) }

    companion object {
        /** Set by tests before the application starts. */
        var played: Ports? = null
    }
}
