package witnessmark.shell.hardware

import android.content.Context
import android.security.keystore.KeyGenParameterSpec
import android.security.keystore.KeyProperties
import java.io.File
import java.io.FileOutputStream
import java.security.KeyStore
import java.security.SecureRandom
import javax.crypto.Cipher
import javax.crypto.KeyGenerator
import javax.crypto.SecretKey
import javax.crypto.spec.GCMParameterSpec
import witnessmark.shell.work.Keys

/** The seed is at rest only as AES-GCM ciphertext (12 bytes nonce, then text and tag) under a key that never leaves the key store. */
class StoreKeys(context: Context, private val secret: () -> SecretKey = ::storeKey) : Keys {
    private val file = File(context.noBackupFilesDir, "author.seed")

    override fun seed(make: Boolean): ByteArray? {
        if (file.exists()) {
            val sealed = file.readBytes()
            val cipher = Cipher.getInstance("AES/GCM/NoPadding")
            cipher.init(Cipher.DECRYPT_MODE, secret(), GCMParameterSpec(128, sealed, 0, 12))
            return cipher.doFinal(sealed, 12, sealed.size - 12)
        }
        if (!make) return null
        val seed = ByteArray(32).also { SecureRandom().nextBytes(it) }
        val cipher = Cipher.getInstance("AES/GCM/NoPadding")
        cipher.init(Cipher.ENCRYPT_MODE, secret())
        val part = File(file.path + ".part")
        FileOutputStream(part).use { it.write(cipher.iv); it.write(cipher.doFinal(seed)); it.fd.sync() }
        check(part.renameTo(file))
        return seed
    }
}

private fun storeKey(): SecretKey {
    val store = KeyStore.getInstance("AndroidKeyStore").apply { load(null) }
    (store.getKey("author", null) as? SecretKey)?.let { return it }
    val maker = KeyGenerator.getInstance(KeyProperties.KEY_ALGORITHM_AES, "AndroidKeyStore")
    maker.init(
        KeyGenParameterSpec.Builder("author", KeyProperties.PURPOSE_ENCRYPT or KeyProperties.PURPOSE_DECRYPT)
            .setBlockModes(KeyProperties.BLOCK_MODE_GCM)
            .setEncryptionPaddings(KeyProperties.ENCRYPTION_PADDING_NONE)
            .setKeySize(256)
            .build(),
    )
    return maker.generateKey()
}
