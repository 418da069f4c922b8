using System.Collections.Concurrent;
using System.Security.Claims;
using Microsoft.Extensions.Options;

namespace Traceability.Service.Security;

/// <summary>Finds whose key a request came with, and remembers it for some seconds.</summary>
/// <remarks>
/// Only keys that were found are remembered, so that made-up ones can't push them out, and at most
/// <see cref="SearchesMax"/> searches run at a time, so that made-up ones can't take every connection.
/// May be used from any thread.
/// </remarks>
internal sealed class KeyLookup(AccessKeyStore store, TimeProvider clock, IOptions<AccessOptions> options) : IDisposable
{
    /// <summary>The most searches in the database at a time.</summary>
    public const int SearchesMax = 4;

    private readonly ConcurrentDictionary<string, Entry> _found = new(StringComparer.Ordinal);
    private readonly SemaphoreSlim _searches = new(SearchesMax);
    private readonly Lock _changing = new();
    private int _revocations;

    /// <summary>How many keys are remembered.</summary>
    public int Count => _found.Count;

    /// <summary>Whose key it is; null if it is nobody's.</summary>
    public async ValueTask<ClaimsPrincipal?> FindAsync(string text, CancellationToken cancellation)
    {
        if (!KeySecret.TryHash(text, out var hash))
        {
            return null;
        }

        // Looked up by the hash: how long a comparison of hashes takes tells nothing about the key.
        var place = Convert.ToHexString(hash);
        if (_found.TryGetValue(place, out var entry) && clock.GetUtcNow() < entry.Until)
        {
            return entry.Principal;
        }

        await _searches.WaitAsync(cancellation);
        try
        {
            // Counted from before the search: a revocation during it still takes effect in time.
            var revocations = Volatile.Read(ref _revocations);
            var until = clock.GetUtcNow() + options.Value.KeyCacheDuration;
            var key = await store.FindAsync(hash, cancellation);
            if (key is null)
            {
                _found.TryRemove(place, out _);
                return null;
            }

            var principal = key.Caller.ToPrincipal(KeyAuthentication.Scheme);
            Remember(place, new(key.Id, principal, until), revocations);
            return principal;
        }
        finally
        {
            _searches.Release();
        }
    }

    /// <summary>Looks the key up anew at its next use.</summary>
    public void Forget(Guid id)
    {
        lock (_changing)
        {
            _revocations++;
            foreach (var place in _found.Where(f => f.Value.Id == id).Select(f => f.Key))
            {
                _found.TryRemove(place, out _);
            }
        }
    }

    /// <inheritdoc />
    public void Dispose() => _searches.Dispose();

    private void Remember(string place, Entry entry, int revocations)
    {
        lock (_changing)
        {
            if (revocations != _revocations)
            {
                // What was read may be older than a revocation since.
                return;
            }

            Add(place, entry);
        }
    }

    private void Add(string place, Entry entry)
    {
        if (_found.Count >= options.Value.CachedKeysMax && !_found.ContainsKey(place))
        {
            // Entries live for seconds, so starting afresh costs one search per key in use.
            _found.Clear();
        }

        _found[place] = entry;
    }

    private sealed record Entry(Guid Id, ClaimsPrincipal Principal, DateTimeOffset Until);
}
