#include "bench/page/http/tls.hpp"

#include <boost/asio/buffer.hpp>

namespace tipwright::page {

namespace {

namespace asio = boost::asio;
using Tls = asio::ssl::context;

}  // namespace

Result<std::unique_ptr<Tls>> tls_of(const Identity& identity) {
    auto out = std::make_unique<Tls>(Tls::tls_server);
    boost::system::error_code error;
    SSL_CTX* native = out->native_handle();
    bool set = SSL_CTX_set_min_proto_version(native, TLS1_2_VERSION) == 1;
    SSL_CTX_set_options(native,
                        SSL_OP_NO_RENEGOTIATION | SSL_OP_NO_COMPRESSION | SSL_OP_CIPHER_SERVER_PREFERENCE);
    out->use_certificate_chain(asio::buffer(identity.certificate_pem), error);
    if (!error) out->use_private_key(asio::buffer(identity.key_pem), Tls::pem, error);
    set = set && !error && SSL_CTX_check_private_key(native) == 1;
    if (!set)
        return Fault{FaultCode::damaged, "certificate and key cannot be used for TLS: " + error.message(),
                     "TLS", "give a certificate and its key as PEM"};
    return out;
}

}  // namespace tipwright::page
