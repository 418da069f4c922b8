using System.Security.Cryptography;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.Options;

namespace Traceability.Service.Security;

/// <summary>Keys, roles and policies.</summary>
internal static class AccessControl
{
    /// <summary>Adds them, and the rule about where the service may listen.</summary>
    public static void AddAccessControl(this IServiceCollection services)
    {
        services.AddOptions<AccessOptions>().BindConfiguration(AccessOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddOptions<SigningOptions>().BindConfiguration(SigningOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<SigningSecrets>();
        services.AddSingleton(_ => RandomNumberGenerator.Create());
        services.AddSingleton<AccessKeyStore>();
        services.AddSingleton<KeyLookup>();
        services.AddSingleton<FirstAdministratorKey>();
        services.AddAuthentication(KeyAuthentication.Scheme)
            .AddScheme<AuthenticationSchemeOptions, KeyAuthentication>(KeyAuthentication.Scheme, null);
        services.AddAuthorization(Policies.Configure);
        services.AddOptions<KestrelServerOptions>().Configure<IOptions<AccessOptions>>(LoopbackOnly.Configure);
    }

    /// <summary>Asks every request for its key, after routing.</summary>
    public static void UseAccessControl(this WebApplication app)
    {
        app.UseAuthentication();
        app.UseAuthorization();
    }

    /// <summary>What must hold before the first request: every endpoint names a policy, and there is an administrator.</summary>
    public static async Task StartAsync(WebApplication app, string dataFolder, CancellationToken cancellation)
    {
        EndpointPolicies.Require(app);
        await app.Services.GetRequiredService<FirstAdministratorKey>().EnsureAsync(Path.GetFullPath(dataFolder), Console.Out, cancellation);
    }
}
