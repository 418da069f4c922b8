using Microsoft.Extensions.DependencyInjection.Extensions;
using Npgsql;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Storage.Answers;

/// <summary>No replica answers, so the primary carries every question.</summary>
internal sealed class ReplicaAlarm(AnswerDatabase answers) : IAlarmSource
{
    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        await answers.ProbeAsync(cancellation);
        return answers.Trouble is { } trouble
            ? [new("replica-behind", trouble.Since, 1, $"{trouble.What} The primary answers in its place.", "See pg_stat_replication on the primary and the log of the replica. Answers are right all the same.")]
            : [];
    }
}

/// <summary>Snapshots for answers.</summary>
internal static class AnswersSetup
{
    /// <summary>Adds them; may be called by every feature that answers.</summary>
    public static IServiceCollection AddAnswers(this IServiceCollection services)
    {
        services.AddHttpContextAccessor();
        services.TryAddSingleton<ReadReplicas>();
        services.TryAddSingleton<AnswerDatabase>();
        services.TryAddSingleton<SecondSessions>();
        return services;
    }
}
