using Traceability.Service.Storage.Answers;
using Traceability.Service.Storage.Checking;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Storage.Workers;

/// <summary>What background workers share, and the check of stored events.</summary>
internal static class WorkersSetup
{
    /// <summary>Adds it.</summary>
    public static IServiceCollection AddWorkers(this IServiceCollection services)
    {
        services.AddSingleton<WorkerLease>();
        services.AddSingleton<WorkerPulse>();
        services.AddOptions<EventCheckOptions>().BindConfiguration(EventCheckOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<EventCheck>();
        services.AddHostedService(s => s.GetRequiredService<EventCheck>());
        services.AddAnswers();
        services.AddSingleton<IAlarmSource, ReplicaAlarm>();
        services.AddHostedService<ReplicaBeat>();
        return services;
    }
}
