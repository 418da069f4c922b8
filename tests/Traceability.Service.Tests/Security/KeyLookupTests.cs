using System.Security.Cryptography;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Traceability.Service.Security;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Security;

public sealed class KeyLookupTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    [Fact]
    public async Task It_remembers_no_more_keys_than_it_may()
    {
        var store = fixture.Host.App.Services.GetRequiredService<AccessKeyStore>();
        var options = Options.Create(new AccessOptions { CachedKeysMax = 3, KeyCacheDuration = TimeSpan.FromMinutes(1) });
        using var lookup = new KeyLookup(store, TimeProvider.System, options);
        using var random = RandomNumberGenerator.Create();

        for (var i = 0; i < 10; i++)
        {
            var text = KeySecret.Make(random);
            Assert.True(KeySecret.TryHash(text, out var hash));
            await store.AddAsync(new(new Guid(hash.AsSpan(0, 16)), $"bounded-{i}", Roles.Quality, null, TimeProvider.System.GetUtcNow(), null), hash, CancellationToken.None);
            Assert.Equal($"bounded-{i}", (await lookup.FindAsync(text, CancellationToken.None))?.Identity?.Name);
            Assert.InRange(lookup.Count, 1, 3);
        }
    }

    [Fact]
    public async Task It_does_not_remember_keys_that_are_not_there()
    {
        using var lookup = new KeyLookup(fixture.Host.App.Services.GetRequiredService<AccessKeyStore>(), TimeProvider.System, Options.Create(new AccessOptions()));
        using var random = RandomNumberGenerator.Create();

        for (var i = 0; i < 10; i++)
        {
            Assert.Null(await lookup.FindAsync(KeySecret.Make(random), CancellationToken.None));
        }

        Assert.Equal(0, lookup.Count);
    }
}
