// What of TLS the server speaks: 1.2 and 1.3, ciphers by OpenSSL's own choice, no new handshake within a
// connection.
#pragma once

#include <boost/asio/ssl/context.hpp>
#include <memory>

#include "bench/page/http/identity.hpp"

namespace tipwright::page {

// Fault: damaged (certificate and key that OpenSSL cannot use).
Result<std::unique_ptr<boost::asio::ssl::context>> tls_of(const Identity& identity);

}  // namespace tipwright::page
