using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.Extensions.Options;
using Microsoft.Net.Http.Headers;
using Traceability.Service.Http;

namespace Traceability.Service.Security;

/// <summary>Reads the key of a request: "Authorization: Bearer trc_..." (RFC 6750, section 2.1).</summary>
internal sealed class KeyAuthentication(
    IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory logger, UrlEncoder encoder, KeyLookup keys)
    : AuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    /// <summary>Name of the authentication scheme.</summary>
    public new const string Scheme = "Key";

    private const string Bearer = "Bearer ";
    private const string Realm = "Bearer realm=\"traceability\"";

    /// <inheritdoc />
    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        if (Presented() is not { } text)
        {
            return AuthenticateResult.NoResult();
        }

        return await keys.FindAsync(text, Context.RequestAborted) is { } principal
            ? AuthenticateResult.Success(new(principal, Scheme))
            : AuthenticateResult.Fail("The key is not known or was revoked.");
    }

    /// <inheritdoc />
    protected override Task HandleChallengeAsync(AuthenticationProperties properties)
    {
        if (Presented() is null)
        {
            Response.Headers.WWWAuthenticate = Realm;
            return Problems.WriteAsync(Context, ProblemKind.KeyMissing, "Send the header \"Authorization: Bearer\" with a key. An administrator gives keys.");
        }

        Response.Headers.WWWAuthenticate = Realm + ", error=\"invalid_token\"";
        return Problems.WriteAsync(Context, ProblemKind.KeyUnknown, "The key is not known here, or it was revoked. Ask an administrator for a new one.");
    }

    /// <inheritdoc />
    protected override Task HandleForbiddenAsync(AuthenticationProperties properties)
    {
        var policies = Context.GetEndpoint()?.Metadata.GetOrderedMetadata<IAuthorizeData>() ?? [];
        var roles = policies.Select(p => p.Policy).OfType<string>().Select(p => Policies.RolesOf(p).AsEnumerable()).ToArray();
        var allowed = roles.Length == 0 ? [] : roles.Aggregate((a, b) => a.Intersect(b, StringComparer.Ordinal));
        Response.Headers.WWWAuthenticate = Realm + ", error=\"insufficient_scope\"";
        return Problems.WriteAsync(
            Context,
            ProblemKind.RoleNotAllowed,
            $"The key \"{Caller.Of(Context).Name}\" has the role {Caller.Of(Context).Role}; this needs one of: {string.Join(", ", allowed)}.");
    }

    private string? Presented()
    {
        // Two headers would leave open which counts: they count as an unknown key.
        var header = Request.Headers[HeaderNames.Authorization].ToString();
        return header.StartsWith(Bearer, StringComparison.OrdinalIgnoreCase) ? header[Bearer.Length..].Trim() : null;
    }
}
