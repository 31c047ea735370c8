#include "report/seal/key_file.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cstring>

#include "calib/base/format_version.hpp"
#include "report/files/files.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"
#include "report/seal/new_passphrase.hpp"

namespace tipwright::seal {
namespace {

constexpr std::size_t max_key_file_bytes = 4096;
constexpr FormatVersion newest_key_file{1, 0};
constexpr std::string_view key_heading = "tipwright secret key ";
constexpr std::uint64_t max_passes = 100;
constexpr std::uint64_t max_memory_bytes = std::uint64_t{1} << 30;

using Seed = std::array<unsigned char, crypto_sign_SEEDBYTES>;

// Wipes what it guards when it goes.
template <std::size_t N>
struct Wiped {
    std::array<unsigned char, N> bytes{};
    Wiped() = default;
    Wiped(const Wiped&) = delete;
    Wiped& operator=(const Wiped&) = delete;
    ~Wiped() { sodium_memzero(bytes.data(), bytes.size()); }
};

template <std::size_t N>
bool read_hex(std::string_view text, std::array<unsigned char, N>& out) {
    const auto bytes = from_hex(text);
    if (!bytes || bytes->size() != N) return false;
    std::memcpy(out.data(), bytes->data(), N);
    return true;
}

bool read_number(std::string_view text, std::uint64_t least, std::uint64_t most, std::uint64_t& out) {
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    return error == std::errc{} && end == text.data() + text.size() && out >= least && out <= most;
}

struct Box {
    std::array<unsigned char, 32> public_key{};
    PassphraseCost cost;
    std::array<unsigned char, crypto_pwhash_SALTBYTES> salt{};
    std::array<unsigned char, crypto_secretbox_NONCEBYTES> nonce{};
    std::array<unsigned char, crypto_sign_SEEDBYTES + crypto_secretbox_MACBYTES> sealed{};
};

bool derive(const Passphrase& passphrase, const Box& box, Wiped<crypto_secretbox_KEYBYTES>& key) {
    return crypto_pwhash(key.bytes.data(), key.bytes.size(), passphrase.text().data(),
                         passphrase.text().size(), box.salt.data(), box.cost.passes,
                         static_cast<std::size_t>(box.cost.memory_bytes), crypto_pwhash_ALG_ARGON2ID13) == 0;
}

Fault no_memory(const PassphraseCost& cost) {
    return {FaultCode::bad_value,
            "the passphrase cannot be worked on: no " + std::to_string(cost.memory_bytes >> 20) +
                " MiB of memory, or a cost out of range",
            "key", "free memory and try again"};
}

Outcome write_box(const std::string& path, const Passphrase& passphrase, const Seed& seed, Box box) {
    randombytes_buf(box.salt.data(), box.salt.size());
    randombytes_buf(box.nonce.data(), box.nonce.size());
    Wiped<crypto_secretbox_KEYBYTES> key;
    if (!derive(passphrase, box, key)) return no_memory(box.cost);
    crypto_secretbox_easy(box.sealed.data(), seed.data(), seed.size(), box.nonce.data(), key.bytes.data());
    const std::string text = std::string(key_heading) + newest_key_file.text() + "\npublic " +
                             to_hex(box.public_key) + "\nargon2id " + std::to_string(box.cost.passes) + " " +
                             std::to_string(box.cost.memory_bytes) + "\nsalt " + to_hex(box.salt) +
                             "\nnonce " + to_hex(box.nonce) + "\nbox " + to_hex(box.sealed) + "\n";
    return write_file(path, text, 0600);
}

Result<Box> read_box(const std::string& path) {
    struct stat found {};
    if (::stat(path.c_str(), &found) != 0) return read_fault(path, errno);
    if (found.st_uid != ::geteuid() || (found.st_mode & 077) != 0)
        return Fault{FaultCode::not_permitted,
                     "this secret key can be read or written by others, or belongs to someone else", path,
                     "chmod 600, owned by whoever signs"};
    Result<std::string> text = read_file(path, max_key_file_bytes);
    if (!text) return text.fault();
    LineReader lines(*text, path);
    const auto words = [&](std::string_view name, std::size_t count) {
        std::vector<std::string> out;
        if (lines.next()) out = lines.words();
        if (out.size() != count || out[0] != name) out.assign(count, "");
        return out;
    };
    if (!lines.next() || !lines.line().starts_with(key_heading))
        return lines.fault(FaultCode::syntax, "not a secret key of tipwright");
    const auto version =
        readable_version(lines.line().substr(key_heading.size()), newest_key_file, "secret key", path + ":1");
    if (!version) return version.fault();
    Box box;
    bool good = read_hex(words("public", 2)[1], box.public_key);
    const std::vector<std::string> cost = words("argon2id", 3);
    good = good && read_number(cost[1], crypto_pwhash_OPSLIMIT_MIN, max_passes, box.cost.passes) &&
           read_number(cost[2], crypto_pwhash_MEMLIMIT_MIN, max_memory_bytes, box.cost.memory_bytes) &&
           box.cost.memory_bytes % 1024 == 0;  // Argon2 counts in KiB and drops the rest
    good = good && read_hex(words("salt", 2)[1], box.salt) && read_hex(words("nonce", 2)[1], box.nonce) &&
           read_hex(words("box", 2)[1], box.sealed) && !lines.next();
    if (!good) return lines.fault(FaultCode::damaged, "the secret key's file was changed");
    return box;
}

Outcome open_box(const Box& box, const Passphrase& passphrase, const std::string& path,
                 Wiped<crypto_sign_SEEDBYTES>& seed) {
    Wiped<crypto_secretbox_KEYBYTES> key;
    if (!derive(passphrase, box, key)) return no_memory(box.cost);
    if (crypto_secretbox_open_easy(seed.bytes.data(), box.sealed.data(), box.sealed.size(), box.nonce.data(),
                                   key.bytes.data()) != 0)
        return Fault{FaultCode::wrong_passphrase, "the passphrase does not open this key", path,
                     "try again; a file that was changed gives the same answer"};
    return Done{};
}

}  // namespace

std::string key_path(const std::string& folder, const std::string& key_id) {
    return folder + "/" + key_id + ".key";
}

Outcome check_folder_is_private(const std::string& folder) {
    struct stat found {};
    if (::stat(folder.c_str(), &found) != 0) return read_fault(folder, errno);
    if (found.st_uid == ::geteuid() && (found.st_mode & 077) == 0) return Done{};
    return Fault{FaultCode::not_permitted,
                 "the folder of the keys is open to others, or belongs to someone else", folder,
                 "chmod 700, owned by whoever signs; give the exported list to others"};
}

Result<SigningKey> store_new_key(const std::string& folder, const Passphrase& passphrase,
                                 const std::string& made_on, const PassphraseCost& cost) {
    if (Outcome closed = check_folder_is_private(folder); !closed) return closed.fault();
    if (Outcome good = check_new_passphrase(passphrase); !good) return good.fault();
    if (sodium_init() < 0) return Fault{FaultCode::bad_value, "no random numbers to be had", "key", ""};
    Wiped<crypto_sign_SEEDBYTES> seed;
    randombytes_buf(seed.bytes.data(), seed.bytes.size());
    SigningKey key = SigningKey::from_seed(seed.bytes);
    key.public_.made_on = made_on;
    Box box;
    box.public_key = key.public_.bytes;
    box.cost = cost;
    if (Outcome written = write_box(key_path(folder, key.public_.id), passphrase, seed.bytes, box); !written)
        return written.fault();
    return key;
}

Outcome change_passphrase(const std::string& folder, const Passphrase& old_passphrase,
                          const Passphrase& new_passphrase, const PassphraseCost& cost) {
    if (Outcome closed = check_folder_is_private(folder); !closed) return closed;
    if (Outcome good = check_new_passphrase(new_passphrase); !good) return good;
    Result<PublicKeys> keys = PublicKeys::read(folder + "/" + std::string(public_keys_name));
    if (!keys) return keys.fault();
    const std::string path = key_path(folder, keys->all().back().id);
    Result<Box> box = read_box(path);
    if (!box) return box.fault();
    Wiped<crypto_sign_SEEDBYTES> seed;
    if (Outcome opened = open_box(*box, old_passphrase, path, seed); !opened) return opened;
    box->cost = cost;
    return write_box(path, new_passphrase, seed.bytes, *box);
}

Result<SigningKey> unlock(const std::string& folder, const std::string& key_id,
                          const Passphrase& passphrase) {
    if (sodium_init() < 0) return Fault{FaultCode::bad_value, "no random numbers to be had", "key", ""};
    if (Outcome closed = check_folder_is_private(folder); !closed) return closed.fault();
    Result<PublicKeys> keys = PublicKeys::read(folder + "/" + std::string(public_keys_name));
    if (!keys) return keys.fault();
    const PublicKey* listed = keys->find(key_id);
    if (listed == nullptr)
        return Fault{FaultCode::unknown_field, "no key " + in_quotes(key_id) + " in the list", folder, ""};
    const std::string path = key_path(folder, key_id);
    Result<Box> box = read_box(path);
    if (!box) return box.fault();
    Wiped<crypto_sign_SEEDBYTES> seed;
    if (Outcome opened = open_box(*box, passphrase, path, seed); !opened) return opened.fault();
    SigningKey key = SigningKey::from_seed(seed.bytes);
    if (key.public_.bytes != listed->bytes || box->public_key != listed->bytes)
        return Fault{FaultCode::damaged, "the secret key is not the one of its public key", path, ""};
    key.public_ = *listed;
    return key;
}

}  // namespace tipwright::seal
