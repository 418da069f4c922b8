using System.Net;
using System.Net.Sockets;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.Options;

namespace Traceability.Service.Security;

/// <summary>Keeps the service from listening where other machines reach it, unless it is told to.</summary>
internal static class LoopbackOnly
{
    /// <summary>Checks every address, however it is configured, before the server listens on it.</summary>
    public static void Configure(KestrelServerOptions server, IOptions<AccessOptions> options) =>
        server.ConfigureEndpointDefaults(listen => Require(listen.EndPoint, options.Value));

    /// <summary>Throws unless the service may listen there.</summary>
    /// <exception cref="InvalidOperationException">The address is not this machine's own, and that is not allowed.</exception>
    public static void Require(EndPoint address, AccessOptions options)
    {
        var isOwn = address is UnixDomainSocketEndPoint || (address is IPEndPoint ip && IPAddress.IsLoopback(ip.Address));
        if (!isOwn && !options.AllowNonLoopback)
        {
            throw new InvalidOperationException(
                $"The service won't listen on {address}: other machines could reach it, and keys would travel unencrypted. "
                + "Listen on 127.0.0.1 (--urls http://127.0.0.1:5080), or put something that encrypts before it and set Access:AllowNonLoopback=true.");
        }
    }
}
