using System.Data;
using System.Security.Cryptography;
using System.Text;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Primitives;
using Traceability.Service.Telemetry;

namespace Traceability.Service.Security;

/// <summary>The secrets with which people sign: the second component of a signature, beside the person's code.</summary>
/// <remarks>
/// <para>
/// Modelled on 21 CFR 11.200(a)(1) (at least two distinct components, such as an identification code and a password) and
/// 11.300(d) (safeguards against unauthorised use, attempts at which are noticed).
/// </para>
/// <para>
/// Stored as PBKDF2 with HMAC-SHA-256 (NIST SP 800-132) over a salt of 16 random bytes, since what people choose can be
/// guessed: NIST SP 800-63B (revision 3), section 5.1.1.2. May be used from any thread.
/// </para>
/// </remarks>
internal sealed class SigningSecrets(NpgsqlDataSource database, RandomNumberGenerator random, TimeProvider clock, IOptions<SigningOptions> options) : IDisposable
{
    /// <summary>The fewest characters of a secret: NIST SP 800-63B (revision 3), section 5.1.1.2.</summary>
    public const int LengthMin = 8;

    /// <summary>The most characters.</summary>
    public const int LengthMax = 128;

    private const int SaltBytes = 16;
    private const int HashBytes = 32;

    // Hashing takes a core for a while: the rest of the service keeps the others.
    private readonly SemaphoreSlim _hashing = new(2);

    /// <summary>What came of a secret.</summary>
    public enum Outcome
    {
        /// <summary>It is the person's.</summary>
        Right,

        /// <summary>It is not; the attempt counts.</summary>
        Wrong,

        /// <summary>The person has none.</summary>
        NotSet,

        /// <summary>There were too many wrong ones: this one was not looked at.</summary>
        Locked,
    }

    /// <summary>Sets a person's secret, in place of an earlier one, and unlocks it.</summary>
    /// <param name="person">The person.</param>
    /// <param name="secret">The secret.</param>
    /// <param name="setBy">The name of the key that sets it.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task SetAsync(PersonCode person, string secret, string setBy, CancellationToken cancellation)
    {
        var salt = new byte[SaltBytes];
        random.GetBytes(salt);
        var iterations = options.Value.Iterations;
        var hash = await HashAsync(secret, salt, iterations, cancellation);
        await using var command = database.CreateCommand(
            """
            insert into traceability.signing_secret (person, salt, hash, iterations, set_at, set_by) values ($1, $2, $3, $4, $5, $6)
            on conflict (person) do update set salt = excluded.salt, hash = excluded.hash, iterations = excluded.iterations,
                set_at = excluded.set_at, set_by = excluded.set_by, failures = 0, failed_at = null
            """);
        command.Parameters.Add(new() { Value = person.Value });
        command.Parameters.Add(new() { Value = salt });
        command.Parameters.Add(new() { Value = hash });
        command.Parameters.Add(new() { Value = iterations });
        command.Parameters.Add(new() { Value = clock.GetUtcNow().UtcDateTime });
        command.Parameters.Add(new() { Value = setBy });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    /// <summary>Takes a person's secret away; a repeat changes nothing.</summary>
    public async Task RemoveAsync(PersonCode person, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("delete from traceability.signing_secret where person = $1");
        command.Parameters.Add(new() { Value = person.Value });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    /// <summary>Whether it is the person's secret. A wrong one counts, and too many in a row lock it for a while.</summary>
    public async Task<Outcome> CheckAsync(PersonCode person, string secret, CancellationToken cancellation)
    {
        // Counted before it is looked at: many attempts at once can't all be looked at before the first one counts.
        var now = clock.GetUtcNow().UtcDateTime;
        byte[] salt, hash;
        int iterations;
        await using (var command = database.CreateCommand(
            """
            update traceability.signing_secret
            set failures = case when failed_at is null or failed_at <= $2 then 1 else failures + 1 end, failed_at = $3
            where person = $1 and (failures < $4 or failed_at <= $2)
            returning salt, hash, iterations
            """))
        {
            command.Parameters.Add(new() { Value = person.Value });
            command.Parameters.Add(new() { Value = now - options.Value.LockDuration, NpgsqlDbType = NpgsqlDbType.TimestampTz });
            command.Parameters.Add(new() { Value = now, NpgsqlDbType = NpgsqlDbType.TimestampTz });
            command.Parameters.Add(new() { Value = options.Value.FailuresMax });
            await using var reader = await command.ExecuteReaderAsync(CommandBehavior.SingleRow, cancellation);
            if (!await reader.ReadAsync(cancellation))
            {
                salt = hash = [];
                iterations = 0;
            }
            else
            {
                (salt, hash, iterations) = (reader.GetFieldValue<byte[]>(0), reader.GetFieldValue<byte[]>(1), reader.GetInt32(2));
            }
        }

        if (iterations == 0)
        {
            return await IsSetAsync(person, cancellation) ? Outcome.Locked : Outcome.NotSet;
        }

        if (!CryptographicOperations.FixedTimeEquals(await HashAsync(secret, salt, iterations, cancellation), hash))
        {
            ServiceTelemetry.SigningFailures.Add(1);
            return Outcome.Wrong;
        }

        await ClearAsync(person, hash, cancellation);
        return Outcome.Right;
    }

    /// <inheritdoc />
    public void Dispose() => _hashing.Dispose();

    private async Task<bool> IsSetAsync(PersonCode person, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select exists (select from traceability.signing_secret where person = $1)");
        command.Parameters.Add(new() { Value = person.Value });
        return (bool)(await command.ExecuteScalarAsync(cancellation))!;
    }

    private async Task ClearAsync(PersonCode person, byte[] hash, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("update traceability.signing_secret set failures = 0, failed_at = null where person = $1 and hash = $2");
        command.Parameters.Add(new() { Value = person.Value });
        command.Parameters.Add(new() { Value = hash });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    private async Task<byte[]> HashAsync(string secret, byte[] salt, int iterations, CancellationToken cancellation)
    {
        await _hashing.WaitAsync(cancellation);
        try
        {
            // One text, however the keyboard composes its letters: NIST SP 800-63B (revision 3), section 5.1.1.2.
            var text = Encoding.UTF8.GetBytes(secret.Normalize(NormalizationForm.FormKC));
            return await Task.Run(() => Rfc2898DeriveBytes.Pbkdf2(text, salt, iterations, HashAlgorithmName.SHA256, HashBytes), cancellation);
        }
        finally
        {
            _hashing.Release();
        }
    }
}
